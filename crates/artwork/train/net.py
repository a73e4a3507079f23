"""The edge network and the spline that its output stands for. README.md defines positions and encodings."""
import struct, zlib
import numpy as np, torch, torch.nn as nn, torch.nn.functional as F

CHANNELS, DILATIONS = 64, (1, 1, 2, 1, 4, 1, 2, 1, 4, 1)
MARGIN = 2 + sum(DILATIONS) + 1     # source pixels that an output looks at on each side: 21


class EdgeNet(nn.Module):
    """(B, 4, h, w) -> (B, 2 (h - 2 MARGIN), 2 (w - 2 MARGIN)); no layer pads."""

    def __init__(self, channels=CHANNELS):
        super().__init__()
        self.head = nn.Conv2d(4, channels, 5)
        self.body = nn.ModuleList(nn.Conv2d(channels, channels, 3, dilation=d) for d in DILATIONS)
        self.tail = nn.Conv2d(channels, 4, 3)
        for c in self.body[1::2]: c.weight.data *= .3      # near the identity at the start
        self.tail.weight.data *= .1

    def forward(self, x):
        h = F.relu(self.head(x))
        for a, b in zip(self.body[::2], self.body[1::2]):
            p = a.dilation[0] + b.dilation[0]
            h = h[:, :, p:-p, p:-p] + F.relu(b(F.relu(a(h))))
        with torch.autocast('cuda', enabled=False):
            r = F.pixel_shuffle(self.tail(h.to(x.dtype)), 2)
            m = MARGIN - 1
            base = F.interpolate(x[:, :1, m:-m, m:-m], scale_factor=2, mode='bilinear', align_corners=False)
            return (base[:, :, 2:-2, 2:-2] + r)[:, 0]


def widened(narrow):
    """The same function with more channels: what is new starts at random and is read by nothing yet."""
    wide = EdgeNet()
    for p, q in zip(wide.parameters(), narrow.parameters()):
        n, m = q.shape[0], q.shape[1] if q.dim() > 1 else 0
        if m: p.data[:n, m:] = 0
        if m: p.data[:n, :m] = q.data
        else: p.data[:n] = q.data
    return wide


# --- the shipped file; README.md describes it ---
MAGIC, FORMAT = b'FQEDGENN', 1
RELU, ADD = 1, 2


def layers(model):
    """(convolution, flags) in the file's order."""
    body = [(c, RELU | ADD * (i % 2)) for i, c in enumerate(model.body)]
    return [(model.head, RELU), *body, (model.tail, 0)]


def save_bin(model, path, number):
    table, values, count = b'', b'', 0
    for c, flags in layers(model):
        v = torch.cat([c.weight.detach().flatten(), c.bias.detach()]).cpu().numpy().astype('<f2')
        assert np.isfinite(v).all()
        table += struct.pack('<6HI', c.in_channels, c.out_channels, c.kernel_size[0], c.dilation[0], flags, 0, len(v))
        values += v.tobytes(); count += len(v)
    body = table + values
    head = MAGIC + struct.pack('<6I', FORMAT, number, len(layers(model)), count, zlib.crc32(body), 0)
    open(path, 'wb').write(head + body)


def load_bin(path):
    b = open(path, 'rb').read()
    version, number, n, count, crc, _ = struct.unpack_from('<6I', b, 8)
    assert b[:8] == MAGIC and version == FORMAT and zlib.crc32(b[32:]) == crc and len(b) == 32 + 16 * n + 2 * count
    channels = struct.unpack_from('<6H', b, 32)[1]
    model, v = EdgeNet(channels), torch.from_numpy(np.frombuffer(b, '<f2', offset=32 + 16 * n).astype(np.float32))
    for c, _ in layers(model):
        for p in (c.weight, c.bias):
            p.data = v[:p.numel()].view(p.shape).clone(); v = v[p.numel():]
    return model.eval()


def grid_maps(h, w, oy, ox):
    """Place in the 8 x 8 grid whose origin is at (oy, ox): three maps (3, h, w)."""
    y = (torch.arange(h) - oy) % 8 / 3.5 - 1
    x = (torch.arange(w) - ox) % 8 / 3.5 - 1
    return torch.stack([torch.ones(h, w), y[:, None].expand(h, w), x[None].expand(h, w)])


def encode(ink, grid=None, pad=MARGIN):
    """ink (h, w) in 0..1 and the grid's origin, or None -> network input (1, 4, h + 2 pad, w + 2 pad)."""
    t = torch.as_tensor(ink, dtype=torch.float32)[None, None] * 2 - 1
    t = F.pad(t, [pad] * 4, mode='replicate')
    h, w = t.shape[2:]
    g = torch.zeros(3, h, w) if grid is None else grid_maps(h, w, pad + grid[0], pad + grid[1])
    return torch.cat([t, g[None]], 1)


def coefficients(model, ink, grid=None, passes=1, device='cpu'):
    """Coefficients (2h, 2w). More passes look at the picture again, turned by a half, then by one and three quarters
    (the 2nd and 4th reversed as well), and average what they see."""
    total = 0
    for turns, reverse in [(0, False), (2, True), (1, False), (3, True)][:passes]:
        a, o, (h, w) = np.rot90(np.asarray(ink), turns), grid, np.shape(ink)
        for _ in range(turns if grid else 0): o, (h, w) = ((w - o[1]) % 8, o[0]), (w, h)
        with torch.no_grad(): u = model(encode((1 - a if reverse else a).copy(), o).to(device))[0]
        total = total + torch.rot90(-u if reverse else u, -turns)
    return total / passes


def bspline(t):
    t = np.abs(t)
    return np.where(t < 1, 2 / 3 - t * t + t ** 3 / 2, np.where(t < 2, (2 - t) ** 3 / 6, 0))


def sampler(coeffs, k, lo=0, hi=None, clamp=True):
    """Matrix from `coeffs` spline coefficients (2 a source px) to samples at (m + .5)/k for source px lo..hi."""
    hi = coeffs // 2 if hi is None else hi
    s = 2 * (np.arange(lo * k, hi * k) + .5) / k - .5
    M = np.zeros((len(s), coeffs), np.float32)
    for d in (-1, 0, 1, 2):
        j = np.floor(s).astype(int) + d
        np.add.at(M, (np.arange(len(s)), np.clip(j, 0, coeffs - 1) if clamp else j), bspline(s - j))
    return torch.from_numpy(M)


def film(u, k):
    """Coefficients (2h, 2w) -> one-bit film (kh, kw), true = ink."""
    sy, sx = sampler(u.shape[0], k).to(u), sampler(u.shape[1], k).to(u)
    return sy @ u @ sx.T > 0
