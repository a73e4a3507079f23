"""Damage for training, all of it on the accelerator: coverage of a truth crop -> levelled ink share, as the program
would hand it to the network. Every sample draws its own kind and strength."""
from functools import lru_cache
import numpy as np, torch, torch.nn.functional as F

KINDS = ('clean', 'jpeg', 'bit', 'noise', 'blur', 'mix')
SHARE = (.08, .29, .26, .16, .12, .09)
WEIGHT = (1., 2.2, 1.8, 2.2, 1.7, 1.)        # in the loss: classes that can be exact count more
LUMA = np.array([16,11,10,16,24,40,51,61,12,12,14,19,26,58,60,55,14,13,16,24,40,57,69,56,14,17,22,29,51,87,80,62,
                 18,22,37,56,68,109,103,77,24,35,55,64,81,104,113,92,49,64,78,87,103,121,120,101,72,92,95,98,112,100,103,99])
CHROMA = np.array([17,18,24,47,99,99,99,99,18,21,26,66,99,99,99,99,24,26,56,99,99,99,99,99,47,66,99,99,99,99,99,99] + [99] * 32)


# --- reductions: separable matrices from truth pixels to source pixels ---
def cubic(t):
    t = np.abs(t)
    return np.where(t < 1, 1.5 * t ** 3 - 2.5 * t ** 2 + 1, np.where(t < 2, -.5 * t ** 3 + 2.5 * t ** 2 - 4 * t + 2, 0))
def lanczos(t): return np.where(np.abs(t) < 3, np.sinc(t) * np.sinc(t / 3), 0)
def triangle(t): return np.maximum(0, 1 - np.abs(t))
def hamming(t): return np.where(np.abs(t) < 1, np.sinc(t) * (.54 + .46 * np.cos(np.pi * t)), 0)
def box(t): return (np.abs(t) < .5) * 1.
def gauss_box(s):
    q = np.linspace(-.5, .5, 17)
    return lambda t: np.exp(-(np.asarray(t)[..., None] - q) ** 2 / (2 * s * s)).sum(-1)
SIGMAS = (.35, .5, .65, .8, .95, 1.1, 1.4)
FILTERS = [box, triangle, hamming, cubic, lanczos] + [gauss_box(s) for s in SIGMAS]
EARLIER = [(r, f, up) for r in (1.25, 1.5, 2.) for f in (box, cubic) for up in (triangle, cubic)]   # enlarged before


def resample(n_out, n_in, step, f):
    """Rows sample an axis of n_in px every `step` px with the filter f (widened when reducing)."""
    c, w = (np.arange(n_out) + .5) * step, max(step, 1.)
    M = f((np.arange(n_in)[None] + .5 - c[:, None]) / w)
    s = M.sum(1, keepdims=True)
    return np.where(np.abs(s) > 1e-6, M / np.where(s == 0, 1, s), 0)


def bank(k, n):
    """Two stacks: truth -> source for every way of reducing, and the second step (identity, or enlarging back)."""
    first = [resample(n, n * k, k, f) for f in FILTERS]
    second = [np.eye(n)] * len(FILTERS)
    for r, f, up in EARLIER:
        m = int(np.ceil(n / r))
        a, b = np.zeros((n, n * k)), np.zeros((n, n))
        a[:m] = resample(m, n * k, k * r, f); b[:, :m] = resample(n, m, 1 / r, up)
        first.append(a); second.append(b)
    T = lambda a, t: torch.from_numpy(np.stack(a)).to('cuda', t)
    return T(first, torch.float16), T(second, torch.float32)


# --- JPEG ---
_D = np.array([[np.cos((2 * x + 1) * u * np.pi / 16) * (np.sqrt(1 / 8) if u == 0 else .5) for x in range(8)] for u in range(8)])


@lru_cache(None)
def const(name, d):
    """Small tables, sent to the device once: a copy in every step would make the host wait."""
    t = {'D': _D, 'luma': LUMA.reshape(8, 8).T, 'chroma': CHROMA.reshape(8, 8).T, 'edges': np.cumsum(SHARE)[:-1]}[name]
    return torch.tensor(t, device=d, dtype=torch.float32)


def jpeg(g, q, table):
    """g (B, h, w) in 0..255, quality q (B,)."""
    B, h, w = g.shape
    D, T = const('D', g.device), const(table, g.device)
    s = torch.where(q < 50, 5000 / q, 200 - 2 * q)
    Q = ((T * s[:, None, None] + 50) / 100).floor().clamp(1, 255)[:, None, :, None]
    b = (g - 128).reshape(B, h // 8, 8, w // 8, 8)
    c = ((b @ D.T).transpose(2, 4) @ D.T / Q).round() * Q            # transposed blocks, as the tables
    return (((c @ D).transpose(2, 4) @ D).reshape(B, h, w) + 128).round().clamp(0, 255)


def srgb(x): return torch.where(x < .0031308, 12.92 * x, 1.055 * x.clamp(min=1e-4) ** (1 / 2.4) - .055)
def low(B, n, d): return F.interpolate(torch.randn(B, 1, 3, 3, device=d), size=(n, n), mode='bicubic', align_corners=True)[:, 0]


def source(truth, banks):
    """truth (B, nk, nk) uint8 -> (ink (B, n, n) levelled, grid origin (B, 2), grid known (B,), kind (B,))."""
    B, d = len(truth), truth.device
    first, second = banks
    n = first.shape[1]
    U = lambda lo=0., hi=1.: torch.rand(B, device=d) * (hi - lo) + lo
    on = lambda p: torch.rand(B, device=d) < p
    col = lambda v: v[:, None, None]
    kind = torch.bucketize(U(), const('edges', d))
    clean, jpg, bit, noisy, blurry, mix = (kind == i for i in range(6))

    # the way it was reduced
    pick = lambda lo, hi: torch.randint(lo, hi, (B,), device=d)
    nf, nb = 5, len(SIGMAS)
    way = torch.where((clean & on(.3)) | (jpg & on(.25)) | (bit & on(.08)) | (noisy & on(.2)) | (mix & on(.6)), pick(1, nf), 0)
    way = torch.where(blurry | (mix & on(.35)) | (bit & on(.06)), pick(nf, nf + nb), way)
    way = torch.where((clean & on(.10)) | (jpg & on(.05)) | (blurry & on(.12)) | (mix & on(.2)) | (bit & on(.03)), pick(nf + nb, len(first)), way)
    soft = (blurry & on(.6)) | (mix & on(.1))                    # blurred by software: after sampling, not before
    way = torch.where(soft & (way >= nf), torch.where(on(.75), 0, pick(1, nf)), way)
    W, V = first[way], second[way]
    c = (W @ truth.to(torch.float16) @ W.transpose(1, 2)).float()
    c = ((c.clamp(0, 1) * 255).round() / 255)
    c = (V @ c @ V.transpose(1, 2)).clamp(0, 1)
    i = torch.arange(n, device=d)
    G = torch.exp(-(i[:, None] - i) ** 2 / (2 * col(U(.35, 1.4)) ** 2)); G = torch.where(col(soft), G / G.sum(2, keepdim=True), torch.eye(n, device=d))
    c = G @ ((c * 255).round() / 255) @ G.transpose(1, 2)
    invert = on(.5); c = torch.where(col(invert), 1 - c, c)
    g = 1 - c                                                    # grey, 1 = paper

    # linear-light averaging, undone (as far as the level is found) at the end
    lin = (clean & on(.06)) | (mix & on(.15)) | (jpg & on(.04)) | (noisy & on(.05)) | (blurry & on(.04))
    g = torch.where(col(lin), srgb(g), g)
    undo = torch.where(lin & on(.75), np.log(.5) / torch.log(U(.70, .77)), torch.ones(B, device=d))
    # contrast, from strong to weak, restored at the end with a small error
    weak = ~bit & on(.14)
    lo, hi = U(0, .35) * weak, 1 - U(0, .35) * weak
    # uneven light: what remains of it after flattening
    light = ((noisy | mix) & on(.3)) | (clean & on(.04)) | (jpg & on(.03))
    g = col(lo) + col(hi - lo) * g
    g = g * (1 + .035 * col(light) * low(B, n, d)) + .02 * col(light) * low(B, n, d)

    # noise: white, or with grain
    amp = torch.where(noisy, U(1.5, 14.5), torch.where(mix & on(.5), U(.5, 9), torch.where(bit & on(.1), U(0, 14), torch.zeros(B, device=d))))
    z = torch.randn(B, n, n, device=d)
    grain = F.avg_pool2d(F.pad(z[:, None], (1, 1, 1, 1), mode='reflect'), 3, 1)[:, 0] * 3
    mixg = (U() * on(.3))
    z = (z * col(1 - mixg) + grain * col(mixg)) / torch.sqrt(col((1 - mixg) ** 2 + mixg ** 2 + 2 * mixg * (1 - mixg) / 3))
    g = ((g.clamp(0, 1) * 255) + z * col(amp)).round().clamp(0, 255)

    # one bit, few levels
    cut = torch.where(on(.7), torch.full((B,), 127.5, device=d), U(108, 148))
    g = torch.where(col(bit), (g > col(cut)) * 255., g)
    steps = U(2, 15).floor(); few = (clean & on(.12)) | (mix & on(.06)) | (noisy & on(.05))
    g = torch.where(col(few), (g / 255 * col(steps)).round() * 255 / col(steps), g)

    # JPEG, perhaps twice with a shifted grid; colour art with halved chroma weighs in through `wy`
    q = torch.where(on(.75), U(22, 80), U(80, 98)).round()
    j = jpg | (mix & on(.6)) | (bit & on(.03)) | (blurry & on(.04))
    twice = j & on(.11)
    sy, sx = np.random.randint(0, 8, 2)
    pre = jpeg(g.roll((int(sy), int(sx)), (1, 2)), U(40, 92).round(), 'luma').roll((-int(sy), -int(sx)), (1, 2))
    g = torch.where(col(twice), pre, g)
    y = jpeg(g, q, 'luma')
    half = g[:, : n // 16 * 16, : n // 16 * 16]
    sat = U(.3, 1)
    half = F.avg_pool2d((half - 128)[:, None] * sat[:, None, None, None] + 128, 2)[:, 0].round()
    half = (jpeg(half, q, 'chroma') - 128) / col(sat) + 128
    up = F.interpolate(half[:, None], scale_factor=2, mode='bilinear' if np.random.rand() < .6 else 'nearest')[:, 0]
    up = F.pad(up[:, None], (0, n - up.shape[2], 0, n - up.shape[1]), mode='replicate')[:, 0]
    wy = torch.where(j & on(.12), U(.5, 1), torch.ones(B, device=d))
    g = torch.where(col(j), y * col(wy) + up * col(1 - wy), g) / 255

    # levelling, with its errors
    err = lambda s: torch.randn(B, device=d) * s * on(.35)
    g = (g - col(lo + err(.015) * weak)) / col(hi - lo + err(.02) * weak)
    g = g.clamp(0, 1) ** col(undo * torch.exp(torch.randn(B, device=d) * .1 * (on(.06) & ~bit)))
    left = on(.15) & ~bit                                         # levels left as they were
    a, b = U(0, .12) * left, 1 - U(0, .12) * left
    g = ((col(a) + col(b - a) * g).clamp(0, 1) * 255).round() / 255

    known = (j & ~few & on(.75))
    oy, ox = np.random.randint(0, 8, 2)
    ink = 1 - g[:, oy:oy + n - 8, ox:ox + n - 8]
    origin = (-int(oy)) % 8, (-int(ox)) % 8
    return ink, origin, known, kind, invert
