#!/usr/bin/env python3
"""Checks printed sheets by hand: renders a PDF of `beamfall marks` and reads it with another program's detector.

    python3 tests/marks_by_hand.py [PDF…]      (without arguments: the ready-made files)

Needs poppler-utils (pdftoppm, pdftotext) and Python with OpenCV and NumPy. Renders at 200 dots per inch, finds the tags
with OpenCV's aruco detector (DICT_APRILTAG_36h11), and for every sheet checks
  - that exactly one tag is read and its number is the one printed as "mark N",
  - that it stands upright (corner order: top left, top right, bottom right, bottom left),
  - its size and where its middle lies, from the grey of the pixels at the black border's edges, within 0.1 mm,
  - the 100 mm check bar, within 0.1 mm, and that no ink lies within 5 mm of the paper's edge;
and for the first page, that no tag is read in it. Prints the versions used and the figures; exits 1 if one is off.
"""
import pathlib
import re
import subprocess
import sys
import tempfile

import cv2
import numpy as np

DPI = 200
MM = 25.4 / DPI
SIZE_MM = 160.0
TOLERANCE_MM = 0.1
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def edge_mm(profile, start, stop):
    """Where black begins along a line of pixels, mm from the paper's edge, to a fraction of a pixel.

    `start` (in the white) and `stop` (in the black) are pixels on either side of the edge, in either order of place.
    The blackness between them, added up, is how far the black reaches out from `stop`.
    """
    step = 1 if stop > start else -1
    black = np.sum(1.0 - profile[start:stop:step].astype(float) / 255.0)
    # The pixel `stop` is not counted; its near side is where the counted ones end.
    near_side = stop if step > 0 else stop + 1
    return (near_side - step * black) * MM


def check(pdf, problems):
    paper = "letter" if "letter" in pdf.name else "a4"
    width_mm, height_mm = PAPERS_MM[paper]
    print(f"{pdf.name}: {paper}, {width_mm} x {height_mm} mm, rendered at {DPI} dots per inch")

    def want(ok, what):
        if not ok:
            problems.append(f"{pdf.name}: {what}")
            print(f"  OFF: {what}")

    with tempfile.TemporaryDirectory() as folder:
        # Antialiased, so that an edge between two pixels still tells where it is.
        subprocess.run(["pdftoppm", "-r", str(DPI), "-png", "-gray", str(pdf), f"{folder}/p"], check=True)
        detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11))
        for n, image in enumerate(sorted(pathlib.Path(folder).glob("p-*.png")), start=1):
            gray = cv2.imread(str(image), cv2.IMREAD_GRAYSCALE)
            ink = np.argwhere(gray < 250)
            top, left = ink.min(axis=0) * MM
            bottom, right = (ink.max(axis=0) + 1) * MM
            free = min(left, top, width_mm - right, height_mm - bottom)
            want(free >= 5.0, f"page {n}: ink {free:.2f} mm from the paper's edge")
            corners, ids, _ = detector.detectMarkers(gray)
            ids = [] if ids is None else [int(i) for i in np.ravel(ids)]
            if n == 1:
                want(not ids, f"page 1 reads as tags {ids}")
                print(f"  page 1: no tag read, ink {free:.1f} mm or more from the edges")
                continue
            text = subprocess.run(
                ["pdftotext", "-f", str(n), "-l", str(n), str(pdf), "-"], check=True, capture_output=True, text=True
            ).stdout
            printed = re.search(r"mark (\d+)", text)
            number = int(printed[1]) if printed else None
            if ids != [number]:
                want(False, f"page {n}: printed mark {number}, read {ids}")
                continue
            quad = np.reshape(corners[0], (4, 2))
            tl, tr, br, bl = quad
            upright = tl[0] < tr[0] and bl[0] < br[0] and tl[1] < bl[1] and tr[1] < br[1]
            want(upright, f"page {n}: mark {number} is not upright")
            if not upright:
                continue
            # Across the middle of each side of the black border, from half a module outside to half a module inside.
            x, y = (int(v) for v in quad.mean(axis=0))
            reach, half = (int(round(SIZE_MM / 8 * modules / MM)) for modules in (4, 0.4))
            row, column = gray[y - 5 : y + 5].mean(axis=0), gray[:, x - 5 : x + 5].mean(axis=1)
            left_mm = edge_mm(row, x - reach - half, x - reach + half)
            right_mm = edge_mm(row, x + reach + half, x + reach - half)
            top_mm = edge_mm(column, y - reach - half, y - reach + half)
            bottom_mm = edge_mm(column, y + reach + half, y + reach - half)
            wide, high = right_mm - left_mm, bottom_mm - top_mm
            aside = (left_mm + right_mm) / 2 - width_mm / 2
            # The detector's own corners, as a second opinion; it finds them to a pixel or so.
            side = np.mean([np.linalg.norm(quad[k] - quad[k - 1]) for k in range(4)]) * MM
            # The check bar: the widest run of black below the tag.
            foot = gray[int(bottom_mm / MM) + 40 :, :]
            bar_row = foot[int(np.argmax((foot < 128).sum(axis=1))) + 3]
            bar = np.sum(1.0 - bar_row.astype(float) / 255.0) * MM
            print(
                f"  page {n}: mark {number} upright, {wide:.3f} x {high:.3f} mm (detector's corners {side:.2f}), "
                f"{aside:+.3f} mm off the middle, bar {bar:.3f} mm, ink {free:.1f} mm or more from the edges"
            )
            want(abs(wide - SIZE_MM) <= TOLERANCE_MM, f"page {n}: {wide:.3f} mm wide")
            want(abs(high - SIZE_MM) <= TOLERANCE_MM, f"page {n}: {high:.3f} mm high")
            want(abs(aside) <= TOLERANCE_MM, f"page {n}: {aside:+.3f} mm off the middle")
            want(abs(bar - 100.0) <= TOLERANCE_MM, f"page {n}: check bar {bar:.3f} mm")


def main():
    poppler = subprocess.run(["pdftoppm", "-v"], capture_output=True, text=True).stderr.splitlines()[0]
    print(f"Python {sys.version.split()[0]}, OpenCV {cv2.__version__}, NumPy {np.__version__}, {poppler}")
    ready = pathlib.Path(__file__).resolve().parent.parent / "calibration" / "marks"
    pdfs = [pathlib.Path(name) for name in sys.argv[1:]] or sorted(ready.glob("*.pdf"))
    problems = [] if pdfs else ["no PDF found"]
    for pdf in pdfs:
        check(pdf, problems)
    print("all as it should be" if not problems else f"{len(problems)} off: " + "; ".join(problems))
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
