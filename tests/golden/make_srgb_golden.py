"""All 256 sRGB code values to linear light, from colour-science; run by hand: python make_srgb_golden.py > srgb.json

colour.models.eotf_sRGB is its implementation of IEC 61966-2-1:1999. Versions are in the output.
"""
import json

import colour
import numpy as np
from colour.models import eotf_inverse_sRGB, eotf_sRGB

linear = eotf_sRGB(np.arange(256) / 255.0)
steps = np.linspace(0.0, 1.0, 41)
print(json.dumps({"colour_science": colour.__version__, "numpy": np.__version__, "linear_of_code": linear.tolist(),
                  "linear": steps.tolist(), "code_of_linear": eotf_inverse_sRGB(steps).tolist()}))
