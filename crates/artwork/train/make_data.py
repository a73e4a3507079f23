#!/usr/bin/env python3
"""make_data.py NODE_MODULES OUT.tar [--count 2500] [--seed 1] [--part I/N]

Draws the training truths: one-bit pictures of 2048 x 2048, kept as Group 4 TIFF in a tar file.
Sources are the icon packages and typefaces that README.md lists, plus shapes drawn here.
Picture i depends on the seed and i alone, so parts can be drawn separately and joined.
"""
import argparse, glob, io, json, os, tarfile
import numpy as np, resvg_py
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.ttLib import TTFont
from PIL import Image
from scipy.ndimage import gaussian_filter, zoom

N = 2048
FLAT = ['ph', 'mdi', 'tabler', 'fa6-solid', 'healthicons', 'icon-park-solid', 'temaki', 'fluent', 'carbon', 'bi']
COLOUR = ['noto', 'fluent-emoji-flat']


class Icons:
    def __init__(self, root, names):
        self.sets = []
        for n in names:
            d = json.load(open(f'{root}/@iconify-json/{n}/icons.json'))
            self.sets.append([(v['body'], v.get('width', d.get('width', 16)), v.get('height', d.get('height', 16)))
                              for _, v in sorted(d['icons'].items())])

    def draw(self, r):
        """A random icon as (markup, width, height)."""
        s = self.sets[r.integers(len(self.sets))]
        return s[r.integers(len(s))]


class Letters:
    """Outlines of text in the latin cuts of the @fontsource packages."""
    WORDS = ('the quick brown fox jumps over a lazy dog SUMMER CAMP Since 1987 River & Sons Coffee Roasters No. 7 '
             'Union Local 42 TEAM Champion Brewing Co. Est. 2009 Surf Club Hello Music Festival Quality Goods '
             'Garage Band RUNNING Volunteer Staff Crew Bakery Family Reunion Pizza Night Bike Shop Yoga Wild Free '
             'Mountain Lake Ranch Forest Ocean Sunset Garden Tattoo Vintage Rodeo Electric Thunder 100% Organic').split()

    def __init__(self, root):
        self.files = sorted(f for f in glob.glob(f'{root}/@fontsource/*/files/*-latin-*.woff'))
        self.fonts = {}

    def draw(self, r):
        """One line of text as (markup, width, height)."""
        f = self.files[r.integers(len(self.files))]
        if f not in self.fonts:
            self.fonts[f] = (t := TTFont(f), t.getGlyphSet(), t.getBestCmap(), t['head'].unitsPerEm)
        t, glyphs, cmap, em = self.fonts[f]
        if r.random() < .7:
            text = ' '.join(r.choice(self.WORDS, r.integers(1, 4)))
            text = text.upper() if r.random() < .35 else text
        else:
            text = ''.join(r.choice(list('ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&?!%@#*'), r.integers(3, 14)))
        out, x, track = [], 0, r.choice([0, 0, .05, -.02]) * em
        lo, hi = 0, .1 * em
        for ch in text:
            g = cmap.get(ord(ch))
            if g is None: continue
            p, b = SVGPathPen(glyphs, ntos=lambda v: f'{v:.1f}'), BoundsPen(glyphs)
            glyphs[g].draw(p); glyphs[g].draw(b)
            if b.bounds: lo, hi = min(lo, b.bounds[1]), max(hi, b.bounds[3])
            out.append(f'<path transform="translate({x:.1f} 0)" d="{p.getCommands()}"/>')
            x += glyphs[g].width + track
        return f'<g transform="translate(0 {hi:.1f}) scale(1 -1)">{"".join(out)}</g>', max(x, 1), hi - lo


def render(body):
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="{N}" height="{N}" color="#000">{body}</svg>'
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg, background='#ffffff', skip_system_fonts=True))
    return np.asarray(Image.open(io.BytesIO(png)).convert('L'))


def place(item, cx, cy, size, r, by='max', turn=None, flip=False):
    """An item (markup, w, h) centred on cx, cy, its larger side (or its height) `size` px, turned and sheared."""
    m, w, h = item
    s = size / (h if by == 'height' else max(w, h))
    if turn is None: turn = r.uniform(-180, 180) if r.random() < .5 else r.choice([0, 0, 0, 90])
    shear = r.uniform(-20, 20) if r.random() < .25 else 0
    sx = s * (r.uniform(.75, 1.3) if r.random() < .25 else 1) * (-1 if flip else 1)
    return (f'<g transform="translate({cx:.2f} {cy:.2f}) rotate({turn:.2f}) skewX({shear:.1f}) scale({sx:.5f} {s:.5f}) '
            f'translate({-w / 2:.3f} {-h / 2:.3f})">{m}</g>')


def grid(icons, r, cells):
    n = cells[r.integers(len(cells))]
    c = N / n
    return ''.join(place(icons.draw(r), (x + .5) * c + r.uniform(-.1, .1) * c, (y + .5) * c + r.uniform(-.1, .1) * c,
                         c * r.uniform(.7, 1.05), r, flip=r.random() < .5) for y in range(n) for x in range(n))


def lettering(letters, r):
    turn = r.uniform(-180, 180) if r.random() < .4 else 0
    size = np.exp(r.uniform(np.log(70), np.log(650)))
    out, y = [], -N * .3
    while y < N * 1.3:
        s = size * r.uniform(.75, 1.3)
        y += s * .62
        x = -N * .3 + r.uniform(0, 300)
        while x < N * 1.3:
            item = letters.draw(r)
            w = item[1] * s / item[2]
            out.append(place(item, x + w / 2, y, s, r, 'height', turn=0)); x += w + s * .4
        y += s * .62
    return f'<g transform="rotate({turn:.1f} {N / 2} {N / 2})">{"".join(out)}</g>'


def shapes(r):
    """Lines, polygons, arcs, rings, stars, rays and hatching, from hair lines to fat ones."""
    out = []
    fat = lambda: np.exp(r.uniform(np.log(5), np.log(90)))
    for _ in range(r.integers(6, 45)):
        x, y, a = r.uniform(0, N), r.uniform(0, N), np.exp(r.uniform(np.log(40), np.log(700)))
        col = '#000' if r.random() < .65 else '#fff'
        k, w = r.integers(8), fat()
        dash = f'stroke-dasharray="{fat() * 2:.1f} {fat() * 1.5:.1f}"' if r.random() < .2 else ''
        line = f'fill="none" stroke="{col}" stroke-width="{w:.1f}" stroke-linecap="{r.choice(["butt", "round", "square"])}" stroke-linejoin="{r.choice(["miter", "round", "bevel"])}" {dash}'
        style = line if r.random() < .5 else f'fill="{col}"'
        turn = f'transform="rotate({r.uniform(0, 360) if r.random() < .7 else 0:.1f} {x:.0f} {y:.0f})"'
        if k == 0:
            p = np.cumsum(r.normal(0, a / 2, (r.integers(2, 7), 2)), 0) + [x, y]
            out.append(f'<polyline points="{" ".join(f"{u:.1f},{v:.1f}" for u, v in p)}" {line}/>')
        elif k == 1: out.append(f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="{a / 2:.1f}" ry="{a / 2 * r.uniform(.3, 1):.1f}" {turn} {style}/>')
        elif k == 2: out.append(f'<rect x="{x:.1f}" y="{y:.1f}" width="{a:.1f}" height="{a * r.uniform(.1, 1):.1f}" rx="{r.choice([0, 0, a * .1]):.1f}" {turn} {style}/>')
        elif k in (3, 4):
            n = r.integers(3, 14); t = np.arange(n) * 2 * np.pi / n + r.uniform(0, 6)
            q = a * (np.where(np.arange(n) % 2, r.uniform(.3, .9), 1) if k == 3 else r.uniform(.4, 1, n))
            out.append(f'<polygon points="{" ".join(f"{x + u * np.cos(v):.1f},{y + u * np.sin(v):.1f}" for u, v in zip(q, t))}" {style}/>')
        elif k == 5:
            p = np.cumsum(r.normal(0, a / 2, (7, 2)), 0) + [x, y]
            c = [f'{u:.1f} {v:.1f}' for u, v in p]
            out.append(f'<path d="M{c[0]}C{c[1]} {c[2]} {c[3]}S{c[4]} {c[5]}" {line}/>')
        elif k == 6:
            n, g = r.integers(5, 25), w * r.uniform(1.4, 4)
            out.append(f'<g {turn}>' + ''.join(f'<path d="M{x:.1f} {y + i * g:.1f}h{a:.1f}" stroke="{col}" stroke-width="{w:.1f}"/>' for i in range(n)) + '</g>')
        else:
            n = r.integers(6, 40)
            out.append(''.join(f'<path d="M{x:.1f} {y:.1f}L{x + a * np.cos(t):.1f} {y + a * np.sin(t):.1f}L{x + a * np.cos(t + d):.1f} {y + a * np.sin(t + d):.1f}z" fill="{col}"/>'
                               for t, d in zip(np.arange(n) * 6.2832 / n, np.full(n, 3.1416 / n * r.uniform(.3, 1.2)))))
    return ''.join(out)


def field(r, size):
    """Smooth noise, features about `size` px across, unit deviation."""
    n = int(N / size * 4) + 8
    f = gaussian_filter(r.normal(size=(n, n)), 1.5)
    f = zoom(f, (N + 64) / (n - 1), order=3)[:N, :N]
    return (f - f.mean()) / f.std()


def organic(r):
    """Blobs and worn texture from cut noise; wavy stripes of changing width, as in engravings."""
    size = np.exp(r.uniform(np.log(60), np.log(500)))
    f = field(r, size)
    if r.random() < .5: return f + r.uniform(0, .6) * field(r, size / r.uniform(2, 5)) > r.uniform(-.8, 1)
    y, x = np.mgrid[:N, :N]
    t, pitch = r.uniform(0, 6.28), np.exp(r.uniform(np.log(40), np.log(240)))
    phase = (x * np.cos(t) + y * np.sin(t)) / pitch * 6.28 + r.uniform(0, 5) * f
    return np.cos(phase) > r.uniform(-.5, .5) + r.uniform(0, .5) * field(r, size)


def picture(i, seed, flat, colour, letters):
    r = np.random.default_rng([seed, i])
    k = r.choice(['icons', 'colour', 'letters', 'shapes', 'organic'], p=[.45, .1, .25, .13, .07])
    if k == 'colour':
        g = render(grid(colour, r, [1, 2, 2, 3, 4, 6]))
        ink = g[g < 250]
        m = g < (np.percentile(ink, r.uniform(30, 75)) if ink.size else 128)
    elif k == 'organic': m = organic(r)
    else:
        m = render(grid(flat, r, [1, 2, 2, 3, 3, 4, 5, 6, 8]) if k == 'icons' else lettering(letters, r) if k == 'letters' else shapes(r)) < 128
    if r.random() < .12: m = m ^ (organic(r) if r.random() < .4 else render(shapes(r)) < 128)   # reversed parts
    return k, m


if __name__ == '__main__':
    ap = argparse.ArgumentParser()
    ap.add_argument('modules'); ap.add_argument('out'); ap.add_argument('--count', type=int, default=2500)
    ap.add_argument('--seed', type=int, default=1); ap.add_argument('--part', default='0/1')
    a = ap.parse_args()
    part, parts = map(int, a.part.split('/'))
    sets = Icons(a.modules, FLAT), Icons(a.modules, COLOUR), Letters(a.modules)
    with tarfile.open(a.out, 'w') as tar:
        for i in range(part, a.count, parts):
            k, m = picture(i, a.seed, *sets)
            if not .01 < m.mean() < .99: continue
            b = io.BytesIO(); Image.fromarray(~m).convert('1').save(b, 'tiff', compression='group4')
            info = tarfile.TarInfo(f'{i:05d}-{k}.tif'); info.size = b.tell(); b.seek(0); tar.addfile(info, b)
