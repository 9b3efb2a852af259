"""Draws a small picture of three marks and writes what OpenCV's detector makes of it.

Writes marks.png (8-bit sRGB grey) and marks.json beside this file. Deterministic: no clock, one seeded generator.
Needs numpy, scipy, pillow and opencv-contrib-python-headless; the versions used are printed and kept in the JSON.
"""

import json
from pathlib import Path

import cv2
import numpy
import PIL
import scipy
from PIL import Image
from scipy.ndimage import gaussian_filter

WIDTH_PX, HEIGHT_PX = 560, 300
SUPERSAMPLING = 8
BLUR_PX = 1.1
# id, corners in px in the order of the tag as printed upright: top left, top right, bottom right, bottom left.
MARKS = [
    (3, [[44.3, 160.8], [145.9, 165.2], [141.6, 268.4], [40.7, 261.1]]),
    (7, [[232.4, 163.9], [330.2, 156.3], [338.8, 255.6], [238.1, 262.7]]),
    (12, [[408.6, 36.2], [510.3, 42.9], [505.5, 140.1], [403.2, 137.4]]),
]
WHITE, BLACK, WALL = 0.8, 0.05, 0.45
MARGIN_CELLS = 1.25


def light_at(x_px, y_px):
    """Relative illumination: bright low down, dim and sloping above."""
    return 0.06 + 0.85 / (1.0 + numpy.exp(-(y_px - 150.0 - 0.05 * x_px) / 30.0))


def best_of_opencv(code, dictionary, drawn):
    """Least rms error, px, of each mark over codings and refinement windows: what OpenCV can do with the best choice."""
    light = numpy.where(code <= 10, code / 255 / 12.92, ((code / 255 + 0.055) / 1.055) ** 2.4)
    best = {}
    for picture in (code, numpy.round(255 * light / light.max()).astype(numpy.uint8)):
        for window in (3, 5, 8):
            parameters = cv2.aruco.DetectorParameters()
            parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
            parameters.cornerRefinementWinSize = window
            parameters.relativeCornerRefinmentWinSize = 1.0
            corners, identifiers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(picture)
            for identifier, quad in zip([] if identifiers is None else identifiers.ravel().tolist(), corners):
                rms = float(numpy.sqrt(((quad.reshape(4, 2) - numpy.array(drawn[identifier])) ** 2).mean()))
                best[identifier] = min(rms, best.get(identifier, numpy.inf))
    return best


def main():
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    step = 1.0 / SUPERSAMPLING
    x = (numpy.arange(WIDTH_PX * SUPERSAMPLING) + 0.5) * step - 0.5
    y = (numpy.arange(HEIGHT_PX * SUPERSAMPLING) + 0.5) * step - 0.5
    x, y = numpy.meshgrid(x, y)
    reflectance = numpy.full(x.shape, WALL)
    for identifier, corners in MARKS:
        picture = cv2.aruco.generateImageMarker(dictionary, identifier, 8) > 0
        square = numpy.array([[0, 0], [8, 0], [8, 8], [0, 8]], numpy.float32)
        to_cells = cv2.getPerspectiveTransform(numpy.array(corners, numpy.float32), square)
        third = to_cells[2, 0] * x + to_cells[2, 1] * y + to_cells[2, 2]
        column = (to_cells[0, 0] * x + to_cells[0, 1] * y + to_cells[0, 2]) / third
        row = (to_cells[1, 0] * x + to_cells[1, 1] * y + to_cells[1, 2]) / third
        least, most = -MARGIN_CELLS, 8 + MARGIN_CELLS
        sheet = (column > least) & (column < most) & (row > least) & (row < most)
        inside = (column >= 0) & (column < 8) & (row >= 0) & (row < 8)
        reflectance[sheet] = WHITE
        cells = picture[row[inside].astype(int), column[inside].astype(int)]
        reflectance[inside] = numpy.where(cells, WHITE, BLACK)
    light = reflectance * light_at(x, y)
    light = light.reshape(HEIGHT_PX, SUPERSAMPLING, WIDTH_PX, SUPERSAMPLING).mean(axis=(1, 3))
    light = gaussian_filter(light, BLUR_PX, mode="nearest")
    light += numpy.random.default_rng(36).normal(0.0, 0.0015, light.shape)
    light = light.clip(0.0, 1.0)
    code = numpy.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    code = numpy.round(255 * code).astype(numpy.uint8)
    here = Path(__file__).parent
    Image.fromarray(code).save(here / "marks.png", optimize=True)

    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, identifiers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(code)
    found = sorted(zip(identifiers.ravel().tolist(), corners), key=lambda pair: pair[0])
    drawn = dict(MARKS)
    best = best_of_opencv(code, dictionary, drawn)
    for identifier, quad in found:
        error = quad.reshape(4, 2) - numpy.array(drawn[identifier])
        print(identifier, "OpenCV's error, px: rms", float(numpy.sqrt((error**2).mean()).round(3)))
    versions = {"opencv": cv2.__version__, "numpy": numpy.__version__, "scipy": scipy.__version__, "pillow": PIL.__version__}
    print(versions)
    golden = {
        "source": "make_marks_golden.py; cv2.aruco.ArucoDetector, DICT_APRILTAG_36h11, CORNER_REFINE_SUBPIX",
        "versions": versions,
        "marks": [
            {
                "id": identifier,
                "drawn_px": drawn[identifier],
                "opencv_best_rms_px": round(best[identifier], 3),
                "opencv_px": [[round(float(v), 3) for v in corner] for corner in quad.reshape(4, 2)],
            }
            for identifier, quad in found
        ],
    }
    (here / "marks.json").write_text(json.dumps(golden, indent=1) + "\n")


if __name__ == "__main__":
    main()
