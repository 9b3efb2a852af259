"""Golden vectors for the homography, from OpenCV; run by hand: python make_homography_golden.py > homography.json

Points and noise are made from a seed here; OpenCV's findHomography (method 0: all points, least squares) is the
reference, the version is in the output.
"""
import json

import cv2
import numpy as np

rng = np.random.default_rng(11)
cases = []
for noise_px in (0.0, 0.3, 2.0):
    truth = np.array([[1.1, 0.08, 900.0], [-0.03, -1.05, 1600.0], [2e-5, 4e-5, 1.0]])
    source = rng.uniform([-900, 100], [900, 1200], (24, 2))
    seen = cv2.perspectiveTransform(source[None], truth)[0] + rng.normal(0, noise_px, (24, 2))
    found, _ = cv2.findHomography(source, seen, 0)
    probes = np.array([[0.0, 600.0], [-850.0, 200.0], [700.0, 1100.0]])
    mapped = cv2.perspectiveTransform(probes[None], found)[0]
    cases.append({"noise_px": noise_px, "from": source.tolist(), "to": seen.tolist(),
                  "probes": probes.tolist(), "mapped": mapped.tolist()})
print(json.dumps({"opencv": cv2.__version__, "numpy": np.__version__, "cases": cases}, indent=1))
