"""Times beamfall beside a floor and a peer, all in one run; only the ratios are the result, seconds are the machine's.

The floor is decoding alone (`djpeg -grayscale` of libjpeg-turbo), the peer `opencv_reading.py` beside this file. Then
how time and memory grow with pixels and with photos. Photos are sample photos, resized, in a temporary folder.

    apt-get install libjpeg-turbo-progs time && pip install opencv-python-headless numpy    # Python 3.11 or later
    cargo build --release && python3 tests/peers/times.py [--rounds 7] [--part peers|pixels|photos] [--program FILE]
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
from pathlib import Path

import cv2
import numpy

ROOT = Path(__file__).resolve().parents[2]
JOB = ROOT / "sample-photos/job.toml"
PHOTO = ROOT / "sample-photos/photos/left-after-1.jpg"
SIDE = "left"
# Megapixels → width and height, px.
SIZES = {3: (2000, 1500), 6.75: (3000, 2250), 12: (4000, 3000), 48: (8000, 6000)}
PHOTOS = (10, 50, 200)


def segments(jpeg, marker):
    """The segments of a JPEG with this marker, headers and all, as far as the first scan."""
    at, found = 2, b""
    while jpeg[at] == 0xFF and jpeg[at + 1] != 0xDA:
        length = 2 + int.from_bytes(jpeg[at + 2 : at + 4])
        found += jpeg[at : at + length] if jpeg[at + 1] == marker else b""
        at += length
    return found


def resized(folder, megapixels):
    """The photo at this size, 4:2:0, quality 93, with its EXIF."""
    colour = cv2.imread(str(PHOTO), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    colour = cv2.resize(colour, SIZES[megapixels], interpolation=cv2.INTER_CUBIC)
    how = [cv2.IMWRITE_JPEG_QUALITY, 93, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420]
    jpeg = cv2.imencode(".jpg", colour, how)[1].tobytes()
    path = folder / f"{megapixels}.jpg"
    path.write_bytes(jpeg[:2] + segments(PHOTO.read_bytes(), 0xE1) + jpeg[2:])
    return path


def job_of(folder, photos):
    """A job of this many photos: the sample's shots over and over, each file with a comment of its own."""
    sample = tomllib.loads(JOB.read_text())
    shutil.copy(JOB.parent / sample["bay"], folder / sample["bay"])
    # The head of the sample's file: car and lamps.
    text, *_ = JOB.read_text().partition("[[shot]]")
    # Twice in one leak-down a photo is a picture given twice.
    shots = [shot for shot in sample["shot"] if "first-try" not in shot["photo"] and not shot.get("sealed")]
    for number in range(photos):
        shot = dict(shots[number % len(shots)])
        shot.pop("lamp_off", None)
        jpeg = (JOB.parent / shot["photo"]).read_bytes()
        comment = f"{number:04}".encode()
        shot["photo"] = f"{number:04}.jpg"
        (folder / shot["photo"]).write_bytes(jpeg[:2] + b"\xff\xfe\x00\x06" + comment + jpeg[2:])
        entry = (f"{key} = {str(value).lower() if value is True else repr(str(value))}" for key, value in shot.items())
        text += "[[shot]]\n" + "\n".join(entry) + "\n\n"
    path = folder / f"{photos}.toml"
    path.write_text(text)
    return path


def timed(command, threads=1):
    """Wall seconds, CPU seconds, peak MB of a command, and what it printed."""
    environment = os.environ | {"RAYON_NUM_THREADS": str(threads)}
    with tempfile.TemporaryFile() as printed, tempfile.NamedTemporaryFile("r") as peak:
        # A child of this process would count this process's memory as its own: it begins as a copy of it.
        command = ["/usr/bin/time", "--quiet", "-f", "%M", "-o", peak.name, *command]
        start = time.perf_counter()
        child = subprocess.Popen(command, stdout=printed, stderr=subprocess.DEVNULL, env=environment)
        _, status, used = os.wait4(child.pid, 0)
        wall = time.perf_counter() - start
        child.returncode = os.waitstatus_to_exitcode(status)
        # Of beamfall 3 is a photo refused: then there is no time of a reading.
        if child.returncode != 0:
            sys.exit(f"{' '.join(map(str, command))} ended with {child.returncode}")
        printed.seek(0)
        return wall, used.ru_utime + used.ru_stime, int(peak.read()) / 1024, printed.read().decode(errors="replace")


def beamfall(program, photo):
    """How beamfall reads this photo of the sample job's lamp."""
    job = tomllib.loads(JOB.read_text())
    lamp = next(lamp for lamp in job["lamp"] if lamp["side"] == SIDE)
    options = {"bay": JOB.parent / job["bay"], "lamp-height": lamp["centre_height_mm"], "lamp-x": lamp["centre_x_mm"]}
    options |= {"distance": lamp["distance_mm"], "traffic": job["traffic"]}
    return [program, "measure", photo, "--csv", "--read-anew", *(f"--{name}={value}" for name, value in options.items())]


def peers(program, folder, rounds):
    """The floor, the peer and beamfall on one photo, in turn, so that what else the machine does falls on all."""
    for megapixels in (6.75, 12, 48):
        photo = resized(folder, megapixels)
        peer = [sys.executable, Path(__file__).with_name("opencv_reading.py"), photo, JOB, SIDE]
        rows = {
            "djpeg -grayscale": (["djpeg", "-grayscale", "-outfile", os.devnull, photo], 1),
            "OpenCV, 1 thread": ([*peer, "1"], 1),
            "OpenCV, 2 threads": ([*peer, "2"], 2),
            "beamfall, 1 thread": (beamfall(program, photo), 1),
            "beamfall, 2 threads": (beamfall(program, photo), 2),
        }
        taken = {name: [] for name in rows}
        inside = {}
        for _ in range(rounds):
            for name, (command, threads) in rows.items():
                run = timed(command, threads)
                taken[name].append(run[:3])
                if name.startswith("OpenCV"):
                    # Without Python's start.
                    inside.setdefault(f"{name}, reading only", []).append((float(run[3].split()[1]), run[1], run[2]))
        taken |= inside
        floor = numpy.array(taken["djpeg -grayscale"])
        print(f"\n{megapixels} megapixels ({rounds} rounds; times and memory as multiples of the floor's)")
        ratios = f"{'wall, least':>12}{'median':>8}{'CPU, least':>12}{'median':>8}{'memory':>8}"
        print(f"{'':<32}{ratios}{'median ms':>11}{'MB':>6}")
        for name, runs in taken.items():
            runs = numpy.array(runs)
            least = runs.min(axis=0) / floor.min(axis=0)
            median = numpy.median(runs, axis=0) / numpy.median(floor, axis=0)
            cpu = ("", "") if "only" in name else (f"{least[1]:.1f}", f"{median[1]:.1f}")
            ms, megabytes = 1000 * numpy.median(runs[:, 0]), numpy.median(runs[:, 2])
            ratios = f"{least[0]:>12.1f}{median[0]:>8.1f}{cpu[0]:>12}{cpu[1]:>8}{median[2]:>8.1f}"
            print(f"{name:<32}{ratios}{ms:>11.0f}{megabytes:>6.0f}")
        photo.unlink()


def growth(title, unit, commands, rounds):
    """A table of what each command takes against its amount, and the line fitted to it."""
    for threads in (1, 2):
        points = []
        for amount, command in commands.items():
            runs = [timed(command, threads)[:3] for _ in range(rounds)]
            points.append((amount, *(statistics.median(column) for column in zip(*runs))))
        amounts, wall, cpu, memory = numpy.array(points).T
        print(f"\n{title}, {threads} thread{'s' * (threads > 1)} (median of {rounds})")
        print(f"{unit:>12}{'wall s':>9}{'CPU s':>9}{'peak MB':>9}")
        for amount, *figures in points:
            print(f"{amount:>12}" + "{:>9.2f}{:>9.2f}{:>9.0f}".format(*figures))
        for name, figures, digits in (("wall", wall, 3), ("CPU", cpu, 3), ("memory", memory, 1)):
            slope, start = numpy.polyfit(amounts, figures, 1)
            # A line through few points: how far the farthest lies from it says whether it is one.
            off = numpy.abs(figures - start - slope * amounts).max() / figures.max()
            kind = "MB" if name == "memory" else "s"
            fitted = f"{name} ≈ {start:.2f} {kind} + {slope:.{digits}f} {kind} × {unit}"
            print(f"  {fitted} (off by at most {off:.0%} of the most)")


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--rounds", type=int, default=7)
    arguments.add_argument("--part", choices=["peers", "pixels", "photos"], action="append")
    target = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    arguments.add_argument("--program", type=Path, default=target / "release/beamfall")
    chosen = arguments.parse_args()
    parts = chosen.part or ["peers", "pixels", "photos"]
    if None in map(shutil.which, ("djpeg", "/usr/bin/time")) or not chosen.program.exists():
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        if "peers" in parts:
            peers(chosen.program, folder, chosen.rounds)
        if "pixels" in parts:
            commands = {size: beamfall(chosen.program, resized(folder, size)) for size in (3, 12, 48)}
            growth("Pixels of one photo", "megapixels", commands, min(chosen.rounds, 3))
        if "photos" in parts:
            commands = {n: [chosen.program, "measure", job_of(folder, n), "--csv", "--read-anew"] for n in PHOTOS}
            growth("Photos of 4.3 megapixels in a job", "photos", commands, 1)


if __name__ == "__main__":
    main()
