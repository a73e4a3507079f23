#!/usr/bin/env python3
"""How far the edges of turned films lie from the truth, turned by scipy.

    turn_score.py SUBSET FILMS DEGREES...      one line of JSON for each angle

SUBSET is tests/art/edge-subset; FILMS holds NAME-DEGREES.png, the film of each picture's aa.png
turned clockwise. The truth, whose one-bit steps a turn would show as teeth, is softened by a
Gaussian of one and a half of its pixels, turned about its middle by scipy's affine_transform
(linear) and cut at half; so is the truth that is turned by nought. The error is the area where film and truth differ over the truth's perimeter, in source
pixels, the mean over the pictures.
"""
import json
import pathlib
import sys

import numpy as np
from PIL import Image
from scipy.ndimage import affine_transform, gaussian_filter

from edge_score import ink, perimeter


def turned(truth, degrees, shape):
    """The truth turned clockwise on a film of this shape, both middles together."""
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    # From a film's row and column to the truth's.
    matrix = np.array([[cos, -sin], [sin, cos]])
    middle = lambda shape: (np.array(shape) - 1) / 2
    offset = middle(truth.shape) - matrix @ middle(shape)
    soft = gaussian_filter(255.0 * truth.astype(np.float32), 1.5)
    grey = affine_transform(soft, matrix, offset, shape, order=1, cval=0.0)
    return (grey >= 127.5).astype(np.uint8)


def main():
    subset, films = map(pathlib.Path, sys.argv[1:3])
    for degrees in sys.argv[3:]:
        errors = []
        for art in sorted(p for p in subset.iterdir() if p.is_dir()):
            truth = ink(Image.open(art / "truth.png"))
            film = ink(Image.open(films / f"{art.name}-{degrees}.png"))
            scale = truth.shape[1] / Image.open(art / "aa.png").width
            off = np.count_nonzero(turned(truth, float(degrees), film.shape) != film)
            errors.append(off / perimeter(truth) / scale)
        print(json.dumps({"degrees": float(degrees), "error": round(float(np.mean(errors)), 5)}))


if __name__ == "__main__":
    main()
