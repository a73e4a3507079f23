#!/usr/bin/env python3
"""export.py edge.pt edge-model.bin [--number 1] [--vectors DIR]

Writes trained weights as the file that the program reads, and test vectors computed from that very file in double
precision. README.md describes both formats."""
import argparse, io, os, struct
import numpy as np, torch
from PIL import Image
import net


def art(h, w, k=12):
    """A ring, a wedge, a thin stroke and a dotted line: coverage of h x w source pixels."""
    y, x = (np.mgrid[:h * k, :w * k] + .5) / k
    s = min(h, w)
    r = np.hypot(x - .45 * w, y - .5 * h)
    ink = (abs(r - .3 * s) < .07 * s) | (abs((x - .6 * w) - .4 * (y - .2 * h)) < .35) | ((x > .7 * w) & (y > .6 * h) & (x - .7 * w < .6 * (y - .6 * h)))
    ink |= (abs(y - .12 * h) < 1) & (x % 4 < 1.7)
    return ink.reshape(h, k, w, k).mean((1, 3))


def cases():
    """name, ink (h, w) in steps of 1/255, grid origin or None"""
    r = np.random.default_rng(5)
    grey = lambda c: np.uint8(np.rint(255 * (1 - c)))

    def jpg(g, q):
        b = io.BytesIO(); Image.fromarray(g).save(b, 'jpeg', quality=q); return np.asarray(Image.open(b))
    yield 'clean', grey(art(32, 40)), None
    yield 'jpeg', jpg(grey(art(40, 32)), 55), (0, 0)
    yield 'jpeg-shifted', jpg(grey(art(40, 32)), 55)[5:, 3:], (3, 5)
    yield 'onebit', np.uint8(255 * (art(30, 30) < .5)), None
    yield 'noise', np.uint8(np.clip(grey(art(29, 33)) + r.normal(0, 9, (29, 33)), 0, 255)), None
    yield 'small', grey(art(5, 7)), (0, 0)
    yield 'pixel', np.uint8([[90]]), None


if __name__ == '__main__':
    ap = argparse.ArgumentParser()
    ap.add_argument('trained'); ap.add_argument('out'); ap.add_argument('--number', type=int, default=1); ap.add_argument('--vectors')
    a = ap.parse_args()
    model = net.EdgeNet(); model.load_state_dict(torch.load(a.trained, map_location='cpu'))
    net.save_bin(model, a.out, a.number)
    print(a.out, os.path.getsize(a.out), 'bytes; largest weight', max(p.abs().max().item() for p in model.parameters()))
    if a.vectors:
        os.makedirs(a.vectors, exist_ok=True)
        model = net.load_bin(a.out).double()
        for name, g, grid in cases():
            ink = np.float32(1 - g.astype(np.float64) / 255)
            with torch.no_grad(): u = model(net.encode(ink, grid).double())[0].numpy().astype('<f4')
            h, w = ink.shape
            with open(f'{a.vectors}/{name}.vec', 'wb') as f:
                f.write(struct.pack('<5I', h, w, grid is not None, *(grid or (0, 0))) + ink.astype('<f4').tobytes() + u.tobytes())
            print(name, ink.shape, u.shape, u.min(), u.max())
