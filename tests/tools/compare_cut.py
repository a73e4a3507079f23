#!/usr/bin/env python3
"""Compares a one-bit film with a reference enlargement, cut at a level.

    compare_cut.py SOURCE FILM pillow-bicubic LEVEL     Pillow's resize(BICUBIC) in floats (mode F)
    compare_cut.py SOURCE FILM otsu                     scikit-image's threshold_otsu, no enlarging

Prints JSON: pixels that differ, and how many of those lie more than a thousandth of a grey level
from the cut, where the rounding of floats cannot be the cause.
"""
import json
import sys

import numpy as np
from PIL import Image
from skimage.filters import threshold_otsu

Image.MAX_IMAGE_PIXELS = None
source = Image.open(sys.argv[1]).convert("L")
film = Image.open(sys.argv[2])
assert film.mode == "1", film.mode
ink = ~np.asarray(film)
if sys.argv[3] == "otsu":
    grey = np.asarray(source).astype(float)
    level = threshold_otsu(np.asarray(source)) + 0.5
else:
    grey = np.asarray(source.convert("F").resize(film.size, Image.Resampling.BICUBIC)).astype(float)
    level = float(sys.argv[4])
assert ink.shape == grey.shape, (ink.shape, grey.shape)
differ = ink != (grey < level)
print(json.dumps({"differ": int(differ.sum()), "beyond_rounding": int((differ & (abs(grey - level) > 1e-3)).sum()),
                  "pixels": ink.size, "level": level}))
