#!/usr/bin/env python3
"""same_picture.py A B: whether two pictures hold the same pixels, as Pillow (and libtiff) reads them."""
import json
import sys

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None
a, b = (Image.open(p) for p in sys.argv[1:3])
same = a.size == b.size
equal = int((np.asarray(a.convert("L")) == np.asarray(b.convert("L"))).sum()) if same else 0
print(json.dumps({"same": same and equal == a.size[0] * a.size[1], "equal": equal, "pixels": a.size[0] * a.size[1],
                  "modes": [a.mode, b.mode], "compression": b.info.get("compression"),
                  "dpi": [str(a.info.get("dpi")), str(b.info.get("dpi"))]}))
