"""A short reading of one photo with OpenCV, as anybody might write it: what its time is worth comparing with.

    opencv_reading.py PHOTO JOB left|right [THREADS]

Marks by cv2.aruco, a plain homography to the wall, on each column of the flat side the steepest step of the light's
logarithm, a straight line through these places, and its height 2.5 degrees beside V-V. It knows no lens, no tone
curve, no stray light, no uncertainty, and refuses nothing but a photo without marks. Prints the inclination in per cent
and the seconds between the file and the figure.
"""

import sys
import time
import tomllib
from pathlib import Path

import cv2
import numpy

SCAN_DEG, FROM_DEG, TO_DEG = 2.5, 1.0, 4.0  # from V-V on the flat side
ABOVE_DEG, BELOW_DEG = 0.5, 3.0  # of the lamp's height: where the edge is looked for
SMOOTHING_DEG = 0.05


def homography(grey, bay):
    """From the wall, mm, to the photo, px, by all corners of the sheets that are found."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found, identifiers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(grey)
    sheets = {sheet["id"]: (sheet["x_mm"], sheet["y_mm"]) for sheet in bay["marks"]["sheet"]}
    half = bay["marks"]["size_mm"] / 2
    square = numpy.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    pairs = [(square + sheets[i], c[0]) for i, c in zip(numpy.ravel(identifiers), found) if i in sheets]
    if len(pairs) < 2:
        sys.exit("fewer than two marks found")
    wall, photo = (numpy.concatenate(points) for points in zip(*pairs))
    return cv2.findHomography(wall, photo)[0]


def inclination_percent(grey, bay, lamp, flat_side):
    """Downward inclination of the cut-off."""
    distance, height = lamp["distance_mm"], lamp["centre_height_mm"]
    mm = lambda degrees: distance * numpy.tan(numpy.radians(degrees))
    # The strip of the flat side as seen square to the wall, a pixel a millimetre.
    x_mm = lamp["centre_x_mm"] + flat_side * mm(numpy.array([FROM_DEG, TO_DEG]))
    left, top = x_mm.min(), height + mm(ABOVE_DEG)
    size = (round(numpy.ptp(x_mm)), round(mm(ABOVE_DEG) + mm(BELOW_DEG)))
    to_wall = numpy.array([[1, 0, left], [0, -1, top], [0, 0, 1]])
    matrix = homography(grey, bay) @ to_wall
    strip = cv2.warpPerspective(grey, matrix, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP) / 255
    light = numpy.where(strip <= 0.04045, strip / 12.92, ((strip + 0.055) / 1.055) ** 2.4)
    log_light = cv2.GaussianBlur(numpy.log10(light + 1e-3), (0, 0), sigmaX=10, sigmaY=mm(SMOOTHING_DEG))
    steepest = numpy.argmax(numpy.diff(log_light, axis=0), axis=0) + 0.5
    points = numpy.stack([numpy.arange(size[0]), steepest], axis=1).astype(numpy.float32)
    along_x, along_y, x0, y0 = cv2.fitLine(points, cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
    column = lamp["centre_x_mm"] + flat_side * mm(SCAN_DEG) - left
    y_mm = top - (y0 + (column - x0) * along_y / along_x)
    return 100 * (height - y_mm) / distance


def main():
    photo, job_file, side = sys.argv[1:4]
    cv2.setNumThreads(int(sys.argv[4]) if len(sys.argv) > 4 else 1)
    job = tomllib.loads(Path(job_file).read_text())
    bay = tomllib.loads((Path(job_file).parent / job["bay"]).read_text())
    lamp = next(lamp for lamp in job["lamp"] if lamp["side"] == side)
    start = time.perf_counter()
    grey = cv2.imread(photo, cv2.IMREAD_GRAYSCALE)
    percent = inclination_percent(grey, bay, lamp, -1 if job["traffic"] == "right" else 1)
    print(f"{percent:.3f} {time.perf_counter() - start:.4f}")


if __name__ == "__main__":
    main()
