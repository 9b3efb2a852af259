"""Golden vectors for the lens, from OpenCV; run by hand: python make_lens_golden.py > lens.json

The program's lens has one radial term, r_d = r_u (1 + k (r_u / R)^2), R half of the picture's diagonal in px. OpenCV's
k1 counts in focal lengths, so that k1 = k (f / R)^2. projectPoints takes places on the wall (z = 0) to px;
undistortPoints takes px to sight lines without distortion, which are then met with the wall. Versions are in the output.
"""
import json

import cv2
import numpy as np

WIDTH_PX, HEIGHT_PX = 4000, 3000
HALF_DIAGONAL_PX = 0.5 * float(np.hypot(WIDTH_PX, HEIGHT_PX))
rng = np.random.default_rng(48)
cases = []
# Focal length px, k, camera's turn (rad, Rodrigues, after facing the wall), its place as OpenCV's tvec in mm.
for focal_px, k, turn, place in (
    (3100.0, 0.0, (0.0, 0.0, 0.0), (50.0, 700.0, 4500.0)),
    (3100.0, -0.03, (0.12, -0.2, 0.02), (-200.0, 500.0, 5200.0)),
    (2800.0, 0.05, (-0.1, 0.35, -0.05), (900.0, 900.0, 6100.0)),
    (5200.0, -0.08, (0.2, 0.1, 0.6), (0.0, 650.0, 9000.0)),
):
    axis = (0.5 * (WIDTH_PX - 1) + 13.0, 0.5 * (HEIGHT_PX - 1) - 21.0)
    # Facing the wall: the camera's y runs down and its z into the wall.
    rotation = cv2.Rodrigues(np.array(turn))[0] @ np.diag([1.0, -1.0, -1.0])
    matrix = np.array([[focal_px, 0, axis[0]], [0, focal_px, axis[1]], [0, 0, 1.0]])
    k1 = k * (focal_px / HALF_DIAGONAL_PX) ** 2
    lens = np.array([k1, 0.0, 0.0, 0.0])
    wall = np.vstack([rng.uniform([-1400, 50], [1400, 1300], (24, 2))])
    px = cv2.projectPoints(np.column_stack([wall, np.zeros(len(wall))]), rotation, np.array(place), matrix, lens)[0][:, 0]
    inside = (px > 0).all(1) & (px < [WIDTH_PX - 1, HEIGHT_PX - 1]).all(1)
    wall, px = wall[inside], px[inside]
    probes = rng.uniform([0, 0], [WIDTH_PX - 1, HEIGHT_PX - 1], (24, 2))
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 200, 1e-14)
    ideal = cv2.undistortPoints(probes[:, None], matrix, lens, None, np.eye(3), np.eye(3), criteria)[:, 0]
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ rotation
    eye = -rotation.T @ np.array(place)
    along = -eye[2] / rays[:, 2]
    met = eye + along[:, None] * rays
    ahead = (along > 0) & (np.abs(met[:, :2]) < 20000).all(1)
    cases.append({"focal_px": focal_px, "k": k, "k1": k1, "turn_rad": turn, "place_mm": place, "axis_px": axis,
                  "wall_mm": wall.tolist(), "projected_px": px.tolist(),
                  "probes_px": probes[ahead].tolist(), "met_mm": met[ahead, :2].tolist()})
print(json.dumps({"opencv": cv2.__version__, "numpy": np.__version__, "size_px": [WIDTH_PX, HEIGHT_PX],
                  "cases": cases}, indent=1))
