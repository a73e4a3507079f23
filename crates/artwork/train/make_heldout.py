#!/usr/bin/env python3
"""make_heldout.py NODE_MODULES OUTDIR : pictures in styles that are never trained on, to judge the weights by.

24 icons of two packages, drawn by a seed; truth 3072 x 3072, from a rendering at 6144 averaged 2 x 2 and cut at one half;
random size and place, half of them turned by up to 20 degrees; inputs at 1/8, 1/12 and 1/16."""
import io, os, sys
import numpy as np, resvg_py
from PIL import Image
from scipy.ndimage import gaussian_filter
from make_data import Icons

KINDS = ('aa', 'j70', 'j40', 'bit', 'n8', 'bl')


def reduce(a, s): return a.reshape(a.shape[0] // s, s, -1, s).mean((1, 3))


def inputs(truth, s, r, save):
    """The six inputs of a truth (true = ink) at 1/s."""
    grey = 255 * (1 - reduce(truth.astype(np.float32), s))
    g8 = np.uint8(np.rint(grey))
    save('aa.png', g8); save('j70.jpg', g8, quality=70); save('j40.jpg', g8, quality=40)
    save('bit.png', np.where(g8 < 128, 0, 255).astype(np.uint8))
    save('n8.png', np.uint8(np.clip(np.rint(grey + r.normal(0, 8, grey.shape)), 0, 255)))
    b = 255 * (1 - reduce(gaussian_filter(truth.astype(np.float32), .8 * s, truncate=3), s))
    save('bl.png', np.uint8(np.clip(np.rint(b), 0, 255)))


if __name__ == '__main__':
    root, out = sys.argv[1:3]
    r = np.random.default_rng(20)
    for name, count in (('game-icons', 16), ('emojione-monotone', 8)):
        icons = Icons(root, [name])
        for i in range(count):
            body, w, h = icons.draw(r)
            s = 3072 / max(w, h) * r.uniform(.7, .95)
            turn = r.uniform(-20, 20) if i % 2 else 0
            cx, cy = 1536 + r.uniform(-60, 60, 2)
            svg = (f'<svg xmlns="http://www.w3.org/2000/svg" width="3072" height="3072" color="#000"><g transform="translate({cx} {cy}) '
                   f'rotate({turn}) scale({s}) translate({-w / 2} {-h / 2})">{body}</g></svg>')
            png = bytes(resvg_py.svg_to_bytes(svg_string=svg, background='#ffffff', zoom=2, skip_system_fonts=True))
            g = np.asarray(Image.open(io.BytesIO(png)).convert('L')).astype(np.float32)
            truth = reduce(g, 2) < 127.5
            d = f'{out}/{name}__{i:02d}'; os.makedirs(d, exist_ok=True)
            Image.fromarray(~truth).convert('1').save(d + '/truth.png')
            for k in (8, 12, 16):
                inputs(truth, k, r, lambda n, a, **o: Image.fromarray(a).save(f'{d}/x{k:02d}_{n}', **o))
            print(d, f'{truth.mean():.3f}', flush=True)
