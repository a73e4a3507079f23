#!/usr/bin/env python3
"""score_set.py edge-model.bin SETDIR... [--scales 12,8,16] [--kinds ...] [--damage] [--full] [--passes 1|2|4] [--jobs 8]
    [--json OUT]

Scores weights on folders of NAME/truth.png with NAME/x12_aa.png and so on. Prints, for each kind, the mean error of
bicubic-and-cut and of the network (area of wrong film / true perimeter, in source pixels), the gain (ratio of the
means), the worst picture's gain and, with --full, edge jitter and topology errors. --damage makes further kinds from
the truths; there bicubic is cut at Otsu's level and the network's input is levelled by `level`, which stands in for the
program's own levelling."""
import argparse, glob, io, json, os, sys
from concurrent.futures import ThreadPoolExecutor
import cv2, numpy as np, torch
from PIL import Image
from scipy.ndimage import gaussian_filter, gaussian_filter1d
import net

def reduce(a, s): return a.reshape(a.shape[0] // s, s, -1, s).mean((1, 3))
cv2.setNumThreads(1)
KINDS = ('aa', 'j70', 'j40', 'bit', 'n8', 'bl')
CROSS = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))


# --- metrics ---
def contours(m):
    cs, _ = cv2.findContours(np.pad(m, 2), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    cs = [c[:, 0].astype(np.float32) - 2 for c in cs]
    return [gaussian_filter1d(c, 1.5, axis=0, mode='wrap') if len(c) >= 8 else c for c in cs]


def perimeter(cs): return float(sum(np.hypot(*(np.roll(c, -1, 0) - c).T).sum() for c in cs if len(c) >= 8))
def dist(m): return cv2.distanceTransform(m, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
def parts(m): return cv2.connectedComponents(m, connectivity=8), cv2.connectedComponents(1 - m, connectivity=4)


class Truth:
    def __init__(s, path, full):
        s.m = (cv2.imread(path, 0) < 128).astype(np.uint8)
        s.per = perimeter(contours(s.m))
        if full:
            s.sdf = cv2.GaussianBlur(np.where(s.m > 0, dist(s.m) - .5, .5 - dist(1 - s.m)).astype(np.float32), (0, 0), 1.)
            s.parts = parts(s.m)


def jitter(T, o, S):
    """Root mean square of the edge's distance from the true edge, above wavelengths of 1.5 source px; in source px."""
    J = []
    for c in contours(o):
        if len(c) < 6 * S: continue
        v = np.concatenate([cv2.remap(T.sdf, q[None, :, 0], q[None, :, 1], cv2.INTER_LINEAR)[0] for q in np.array_split(c, len(c) // 30000 + 1)])
        J.append((v - gaussian_filter1d(v, 1.5 * S, mode='wrap'))[np.abs(v) < S])
    return float(np.sqrt((np.concatenate(J) ** 2).mean())) / S if J else 0.


def topology(T, o, S):
    """Parts of ink or ground that were lost, added, split or merged."""
    n = 0
    for (nt, t), (no, q) in zip(T.parts, parts(o)):
        M = np.bincount(t.ravel().astype(np.int64) * no + q.ravel(), minlength=nt * no).reshape(nt, no)[1:, 1:]
        B = M >= np.maximum(1, np.minimum(.25 * S * S, .25 * np.minimum(M.sum(1)[:, None], M.sum(0)[None])))
        n += (B.sum(1) == 0).sum() + (B.sum(0) == 0).sum() + np.maximum(B.sum(1) - 1, 0).sum() + np.maximum(B.sum(0) - 1, 0).sum()
    return int(n)


# --- levelling: flatten the paper, set ink and paper, undo linear-light averaging ---
def otsu(g): return cv2.threshold(np.uint8(np.clip(g, 0, 255)), 0, 255, cv2.THRESH_OTSU)[0]


def level(g):
    """Grey (h, w) -> ink share 0..1."""
    g = g.astype(np.float64)
    if len(np.unique(g)) <= 2: return (g < 128) * 1.
    h, w = g.shape
    y, x = np.mgrid[:h, :w] / max(h, w) - .5
    A = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1)
    t, flat = otsu(g), g
    for _ in range(5):
        m = cv2.erode((flat > t).astype(np.uint8), np.ones((3, 3))) > 0
        if m.sum() < 200: break
        p = A @ np.linalg.lstsq(A[m], g[m], rcond=None)[0]
        if p[m].std() < 4: flat = g; break                            # the light is even: leave it
        flat = g / np.maximum(p, 20) * np.median(g[m]); t = otsu(flat)
    t = otsu(flat)
    e = np.ones((3, 3))
    ip, ii = cv2.erode((flat > t).astype(np.uint8), e) > 0, cv2.erode((flat <= t).astype(np.uint8), e) > 0
    paper = np.median(flat[ip]) if ip.sum() > 50 else flat.max()
    ink = np.median(flat[ii]) if ii.sum() > 50 else flat.min()
    v = np.clip((flat - ink) / max(paper - ink, 1), 0, 1)
    mid = v[(v > .15) & (v < .85)]
    if mid.size > 50 and len(np.unique(g)) > 16 and np.median(mid) > .57: v = np.where(v < .04045, v / 12.92, ((v + .055) / 1.055) ** 2.4)
    return 1 - v


# --- further kinds of damage, from the truth ---
def jpg(a, q, **o):
    b = io.BytesIO(); Image.fromarray(a).save(b, 'jpeg', quality=q, **o)
    return np.asarray(Image.open(b))


def u8(a): return np.uint8(np.clip(np.rint(a), 0, 255))


def damaged(T, s, seed):
    """name -> (grey, grid origin or None)"""
    r = np.random.default_rng(seed)
    t = T.m.astype(np.float32); n = t.shape[0] // s
    aa = 255 * (1 - reduce(t, s)); blur = lambda q: 255 * (1 - reduce(gaussian_filter(t, q * s, truncate=3), s))
    pil = Image.fromarray(255 - 255 * T.m)
    for name, f in (('lanczos', 1), ('bicubic', 3), ('triangle', 2)): yield name, np.asarray(pil.resize((n, n), f)), None
    yield 'linear light', u8(255 * np.where((l := aa / 255) < .0031308, 12.92 * l, 1.055 * l ** (1 / 2.4) - .055)), None
    yield 'JPEG twice', jpg(jpg(np.pad(u8(aa), ((3, 5), (5, 3)), 'edge'), 75)[3:3 + n, 5:5 + n], 60), (0, 0)
    yield 'blur, JPEG 50', jpg(u8(blur(.8)), 50), (0, 0)
    yield 'noise, JPEG 65', jpg(u8(aa + r.normal(0, 8, aa.shape)), 65), (0, 0)
    c = (aa / 255)[..., None]; rgb = u8(c * [250, 236, 190] + (1 - c) * [30, 40, 120])
    yield 'colour JPEG 60', np.asarray(Image.fromarray(jpg(rgb, 60, subsampling=2)).convert('L')), (0, 0)
    y, x = np.mgrid[:n, :n] / n
    yield 'uneven, noise', u8((.25 + .75 * aa / 255) * 235 * (1 - .4 * (.7 * x + .3 * y) - .1 * (x - .4) ** 2) + r.normal(0, 6, aa.shape)), None
    m = round(n / 1.5)
    yield 'enlarged 1.5', np.asarray(pil.resize((m, m), 4).resize((n, n), 3)), None
    yield 'six greys', u8(np.rint(aa / 51) * 51), None


# --- running ---
def bicubic(g, s, cut): return np.asarray(Image.fromarray(g).resize((g.shape[1] * s, g.shape[0] * s), 3)) < cut


def run(model, dev, ink, grid, s, passes): return net.film(net.coefficients(model, ink, grid, passes, dev), s)


def one(args):
    d, a, model, dev = args
    T = Truth(d + '/truth.png', a.full)
    tg = torch.from_numpy(T.m).to(dev) > 0
    todo = []
    for s in a.scales:
        for k in a.kinds:
            f = f'{d}/x{s:02d}_{k}.' + ('jpg' if k[0] == 'j' else 'png')
            todo.append((k, s, np.asarray(Image.open(f).convert('L')), (0, 0) if k[0] == 'j' else None, False))
    if a.blind: todo += [(k + ' blind', s, g, None, False) for k, s, g, gr, _ in todo if gr]
    if a.damage: todo += [(k, 12, g, gr, True) for k, g, gr in damaged(T, 12, sum(map(ord, d.split('/')[-1])))]
    out = []
    for k, s, g, grid, lev in todo:
        film = run(model, dev, level(g) if lev or a.level else 1 - g / 255., grid, s, a.passes)
        q = dict(xor=(film != tg).sum().item() / T.per / s)
        b = bicubic(g, s, otsu(g) + 1 if lev else 128)
        q['ref'] = np.count_nonzero(b != T.m) / T.per / s
        if a.full and not lev and s == 12:
            o = film.cpu().numpy().astype(np.uint8); b = b.astype(np.uint8)
            q.update(jit=jitter(T, o, s), rjit=jitter(T, b, s), topo=topology(T, o, s), rtopo=topology(T, b, s))
        out.append((k, s, q))
    return os.path.basename(d), out


if __name__ == '__main__':
    ap = argparse.ArgumentParser()
    ap.add_argument('weights'); ap.add_argument('sets', nargs='+'); ap.add_argument('--scales', default='12,8,16'); ap.add_argument('--kinds', default=','.join(KINDS))
    for f in ('damage', 'full', 'blind', 'level'): ap.add_argument('--' + f, action='store_true')
    ap.add_argument('--passes', type=int, default=2, choices=(1, 2, 4))
    ap.add_argument('--jobs', type=int, default=8); ap.add_argument('--json')
    a = ap.parse_args(); a.scales = [int(s) for s in a.scales.split(',')]; a.kinds = a.kinds.split(',')
    dev = 'cuda' if torch.cuda.is_available() else 'cpu'
    model = net.load_bin(a.weights).to(dev)
    everything = {}
    for set_ in a.sets:
        with ThreadPoolExecutor(a.jobs) as ex: R = list(ex.map(one, [(d, a, model, dev) for d in sorted(glob.glob(set_ + '/*/'))  for d in [d.rstrip('/')]]))
        everything[set_] = R
        print(f'{os.path.basename(set_)}: {len(R)} pictures, {a.passes} passes\n{"kind":16s}{"scale":>5s}{"bicubic":>9s}{"network":>9s}{"gain":>7s}{"worst":>7s}' + (f'{"jitter":>8s}{"of bic.":>8s}{"topo":>7s}{"bic.":>7s}' if a.full else '') + '  worst picture')
        for k, s in dict.fromkeys((k, s) for _, o in R for k, s, _ in o):
            q = [(n, v) for n, o in R for kk, ss, v in o if (kk, ss) == (k, s)]
            M = lambda key: np.mean([v[key] for _, v in q])
            w, wn = min((v['ref'] / max(v['xor'], 1e-9), n) for n, v in q)
            line = f'{k:16s}{s:5d}{M("ref"):9.4f}{M("xor"):9.4f}{M("ref") / M("xor"):7.2f}{w:7.2f}'
            if a.full: line += f'{M("jit"):8.4f}{M("jit") / M("rjit"):8.3f}{M("topo"):7.2f}{M("rtopo"):7.2f}' if 'jit' in q[0][1] else ' ' * 30
            print(line + '  ' + wn, flush=True)
    if a.json: json.dump(everything, open(a.json, 'w'))
