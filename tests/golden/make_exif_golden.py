"""EXIF as Pillow reads it; run by hand, in this folder: python make_exif_golden.py

Writes two small JPEGs with invented EXIF, exif_little.jpg by Pillow (little-endian) and exif_big.jpg by piexif
(big-endian), and exif.json with what Pillow reads from them and from two of the sample photos. Deterministic.
"""
import json
from pathlib import Path

import piexif
import PIL
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

HERE = Path(__file__).parent
SAMPLES = ("../../sample-photos/photos/left-before-0.jpg", "../../sample-photos/photos/left-pump-03-200mbar.jpg")


def write():
    # A ramp to the right and down, so that an orientation shows.
    picture = Image.new("L", (400, 320))
    picture.putdata([(x * 200 // 400 + y * 50 // 320) for y in range(320) for x in range(400)])
    exif = Image.Exif()
    exif.endian = "<"
    exif[ExifTags.Base.Make] = "Invented"
    exif[ExifTags.Base.Model] = "Pocket 1"
    exif[ExifTags.Base.Orientation] = 6
    exif[ExifTags.Base.DateTime] = "2031:03:09 10:00:00"
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.DateTimeOriginal] = "2031:03:04 20:15:59"
    inner[ExifTags.Base.OffsetTimeOriginal] = "-05:30"
    inner[ExifTags.Base.ExposureTime] = IFDRational(1, 15)
    inner[ExifTags.Base.FNumber] = IFDRational(178, 100)
    inner[ExifTags.Base.ISOSpeedRatings] = 640
    inner[ExifTags.Base.FocalLength] = IFDRational(676, 100)
    inner[ExifTags.Base.FocalLengthIn35mmFilm] = 24
    picture.save(HERE / "exif_little.jpg", quality=60, exif=exif)
    block = piexif.dump({
        "0th": {piexif.ImageIFD.Make: "Invented", piexif.ImageIFD.Model: "Pocket 2", piexif.ImageIFD.Orientation: 3},
        "Exif": {
            piexif.ExifIFD.DateTimeOriginal: "2031:12:31 23:59:58",
            piexif.ExifIFD.ExposureTime: (4, 1),
            piexif.ExifIFD.FNumber: (28, 10),
            piexif.ExifIFD.ISOSpeedRatings: 3200,
            piexif.ExifIFD.FocalLength: (50, 1),
            piexif.ExifIFD.FocalLengthIn35mmFilm: 75,
        },
    })
    picture.save(HERE / "exif_big.jpg", quality=60, exif=block)


def read(path):
    picture = Image.open(HERE / path)
    exif = picture.getexif()
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    number = lambda tag: None if tag not in inner else float(inner[tag])
    camera = [exif[tag] for tag in (ExifTags.Base.Make, ExifTags.Base.Model) if tag in exif]
    return {
        "file": path,
        "date_time_original": inner.get(ExifTags.Base.DateTimeOriginal),
        "utc_offset": inner.get(ExifTags.Base.OffsetTimeOriginal),
        "exposure_s": number(ExifTags.Base.ExposureTime),
        "f_number": number(ExifTags.Base.FNumber),
        "iso": inner.get(ExifTags.Base.ISOSpeedRatings),
        "focal_length_mm": number(ExifTags.Base.FocalLength),
        "focal_length_35mm_mm": number(ExifTags.Base.FocalLengthIn35mmFilm),
        "orientation": exif.get(ExifTags.Base.Orientation, 1),
        "camera": " ".join(camera),
        "size_px": picture.size,
    }


write()
golden = {"pillow": PIL.__version__, "piexif": piexif.VERSION,
          "files": [read(path) for path in (*SAMPLES, "exif_little.jpg", "exif_big.jpg")]}
(HERE / "exif.json").write_text(json.dumps(golden, indent=1) + "\n")
