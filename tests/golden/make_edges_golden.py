"""Golden vectors for the inflection, from SciPy; run by hand: python make_edges_golden.py > edges.json

Made-up profiles of ln light against vertical angle, with three references each:
- definition: where the clean curve falls most steeply (scipy.optimize.minimize_scalar), and its sharpness G;
- savgol: the same of the sampled profile, smoothed by scipy.signal.savgol_filter (straight line over 0.2 degrees), once
  its peak and once the middle of its upper fifth, which is how the program places it;
- same_form: scipy.optimize.least_squares on the program's own edge form (power mean of a dark and a bright level, with
  a logistic or a normal fade), its priors and its Cauchy loss, written here anew on scipy.special.
Noise comes from a seed; versions are in the output.
"""
import json

import numpy as np
import scipy
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares, minimize_scalar
from scipy.signal import savgol_filter
from scipy.special import expit, log_expit, log_ndtr, logsumexp, ndtr

LN10 = np.log(10.0)
STEP_DEG = 0.02
BETA_DEG = -1.6 + STEP_DEG * np.arange(161)
SD = 0.03


def log_sigmoid(centre, width):
    return lambda b: LN10 * (-1.0 - np.tanh((b - centre) / width))


def blurred_step(centre, sigma, dark, slope):
    return lambda b: np.log(dark + (np.exp(slope * (b - centre)) - dark) * ndtr((centre - b) / sigma))


PROFILES = [
    ("log sigmoid", log_sigmoid(0.137, 0.35), 0.0),
    ("log sigmoid, soft", log_sigmoid(-0.21, 0.6), 0.0),
    ("blurred step", blurred_step(0.05, 0.14, 0.02, 0.0), 0.0),
    ("blurred step on a slope", blurred_step(-0.12, 0.2, 0.01, 0.25), 0.0),
    ("log sigmoid, textured wall", log_sigmoid(0.137, 0.35), 0.02),
    ("blurred step, textured wall", blurred_step(0.05, 0.14, 0.02, 0.1), 0.02),
]


def steepest_deg(curve, about, half=0.5):
    """Where a callable curve falls most steeply, by central differences of 0.002 degrees: grid, then Brent."""
    fall = lambda b: curve(b + 0.001) - curve(b - 0.001)
    grid = np.arange(about - half, about + half, 0.005)
    best = grid[np.argmin(fall(grid))]
    return float(minimize_scalar(fall, bounds=(best - 0.01, best + 0.01), method="bounded", options={"xatol": 1e-9}).x)


def sharpness_g(curve, about):
    drop = lambda b: -(curve(b) - curve(b + 0.1)) / LN10
    return float(-minimize_scalar(drop, bounds=(about - 0.2, about + 0.1), method="bounded", options={"xatol": 1e-9}).fun)


def form(fade, p, b):
    from_edge = b - p[0]
    t = from_edge / np.exp(p[1])
    ln_share, ln_rest = (log_expit(-t), log_expit(t)) if fade == "logistic" else (log_ndtr(-0.588 * t), log_ndtr(0.588 * t))
    bright = p[3] + p[4] * from_edge + p[5] * np.minimum(from_edge, 0.0) ** 2
    dark = p[6] + p[7] * from_edge
    q = p[2] if abs(p[2]) >= 1e-3 else 1e-3
    return logsumexp([q * dark + ln_rest, q * bright + ln_share], axis=0) / q


def same_form(fade, ln_light, about):
    count = len(ln_light)

    def residuals(p):
        priors = [p[2] - 0.5, p[4], p[5] / 0.5, p[7], (p[1] - np.log(0.18)) / 0.8]
        return np.concatenate([(form(fade, p, BETA_DEG) - ln_light) / SD, priors])

    def loss(z):
        rho = np.vstack([np.log1p(z), 1.0 / (1.0 + z), -1.0 / (1.0 + z) ** 2])
        rho[:, count:] = np.vstack([z, np.ones_like(z), np.zeros_like(z)])[:, count:]
        return rho

    best = None
    for q, width in ((0.05, 0.15), (0.6, 0.15), (0.9, 0.3)):
        start = [about, np.log(width), q, ln_light.max(), 0.0, 0.0, ln_light.min(), 0.0]
        found = least_squares(residuals, start, loss=loss, f_scale=1.5, xtol=1e-12, ftol=1e-12, gtol=1e-12, max_nfev=4000)
        if best is None or found.cost < best.cost:
            best = found
    curve = lambda b: form(fade, best.x, np.asarray(b))
    at = steepest_deg(curve, best.x[0])
    return {"fade": fade, "inflection_deg": at, "sharpness_g": sharpness_g(curve, at), "cost": float(best.cost)}


rng = np.random.default_rng(112)
cases = []
for name, curve, noise in PROFILES:
    ln_light = curve(BETA_DEG) + rng.normal(0.0, noise, BETA_DEG.size)
    true_deg = steepest_deg(curve, 0.0)
    slope = savgol_filter(ln_light, 11, 1, deriv=1, delta=STEP_DEG, mode="interp")
    smooth = CubicSpline(BETA_DEG, slope)
    near = np.abs(BETA_DEG - true_deg) < 0.5
    start = BETA_DEG[near][np.argmin(slope[near])]
    peak = minimize_scalar(smooth, bounds=(start - STEP_DEG, start + STEP_DEG), method="bounded", options={"xatol": 1e-9}).x
    fine = np.arange(peak - 0.5, peak + 0.5, 0.001)
    upper = np.maximum(-smooth(fine) - 0.8 * np.max(-smooth(fine)), 0.0)
    cases.append({
        "name": name, "noise_sd": noise, "ln_light": [round(float(v), 9) for v in ln_light],
        "definition": {"inflection_deg": true_deg, "sharpness_g": sharpness_g(curve, true_deg)},
        "savgol_peak_deg": float(peak), "savgol_upper_fifth_deg": float(np.sum(upper * fine) / np.sum(upper)),
        "same_form": [same_form(fade, ln_light, round(true_deg, 1)) for fade in ("logistic", "normal")],
    })
print(json.dumps({"scipy": scipy.__version__, "numpy": np.__version__, "first_beta_deg": -1.6, "step_deg": STEP_DEG,
                  "sd": SD, "cases": cases}, indent=1))
