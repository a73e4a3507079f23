#!/usr/bin/env python3
"""How much closer films come to the truth than enlarging by Pillow's bicubic and cutting at 128.

    edge_score.py SUBSET FILMS      one line of JSON a class

SUBSET is tests/art/edge-subset; FILMS holds NAME-CLASS.png, a film of each of its inputs. The error
is the area where film and truth differ over the truth's perimeter, that is the mean distance of
the edges, here in source pixels; the gain is bicubic's mean error over the films'. Topology errors
are counted both ways and for ink and ground: parts lost, added, split and merged.
"""
import json
import pathlib
import sys

import cv2
import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter1d

CLASSES = ["aa.png", "j70.jpg", "j40.jpg", "bit.png", "n8.png", "bl.png"]


def ink(picture):
    return (np.asarray(picture.convert("L")) < 128).astype(np.uint8)


def perimeter(film):
    """The length of all outlines, the pixel steps smoothed away."""
    outlines, _ = cv2.findContours(np.pad(film, 2), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    length = 0.0
    for outline in (o[:, 0, :].astype(float) for o in outlines if len(o) >= 8):
        soft = gaussian_filter1d(outline, 1.5, axis=0, mode="wrap")
        length += np.hypot(*(np.roll(soft, -1, 0) - soft).T).sum()
    return length


def parts(film):
    """Labelled parts: ink joined over corners too, ground over sides only."""
    return cv2.connectedComponents(film, connectivity=8), cv2.connectedComponents(1 - film, connectivity=4)


def topology(truth, film, least):
    """Parts lost, added, split and merged; two parts match where they share `least` pixels or a
    quarter of the smaller."""
    faults = 0
    for (n, a), (m, b) in zip(truth, parts(film)):
        shared = np.bincount(a.ravel().astype(np.int64) * m + b.ravel(), minlength=n * m)
        shared = shared.reshape(n, m)[1:, 1:]
        smaller = np.minimum(shared.sum(1)[:, None], shared.sum(0)[None, :])
        match = shared >= np.maximum(1, np.minimum(least, smaller / 4))
        for counts in (match.sum(0), match.sum(1)):
            faults += int((counts == 0).sum() + np.maximum(counts - 1, 0).sum())
    return faults


def main():
    subset, films = map(pathlib.Path, sys.argv[1:3])
    sums = {c: np.zeros(4) for c in CLASSES}
    for art in sorted(p for p in subset.iterdir() if p.is_dir()):
        truth = ink(Image.open(art / "truth.png"))
        labels, around = parts(truth), perimeter(truth)
        for c in CLASSES:
            source = Image.open(art / c).convert("L")
            scale = truth.shape[1] / source.width
            bicubic = ink(source.resize(truth.shape[::-1], Image.Resampling.BICUBIC))
            film = ink(Image.open(films / f"{art.name}-{c.split('.')[0]}.png"))
            for i, made in enumerate((bicubic, film)):
                error = np.count_nonzero(made != truth) / around / scale
                sums[c][2 * i :][:2] += error, topology(labels, made, scale * scale / 4)
    for c, (theirs, their_faults, ours, our_faults) in sums.items():
        said = {"class": c.split(".")[0], "gain": round(theirs / ours, 3)}
        print(json.dumps(said | {"topology": int(our_faults), "topology_bicubic": int(their_faults)}))


if __name__ == "__main__":
    main()
