#!/usr/bin/env python3
"""train.py TRUTHS.tar... --minutes M --out DIR [--muon] [--seed 1]      (or: torchrun --nproc_per_node G train.py ...)

Trains the edge network. Everything after reading the truths happens on the accelerator. The learning rate follows
the clock, so that the weights are settled when the minutes are over (and --span has come to 1). Writes DIR/edge.pt (averaged weights) as it goes.
"""
import argparse, io, os, tarfile, time
from concurrent.futures import ProcessPoolExecutor
import numpy as np, torch, torch.distributed as dist, torch.nn.functional as F
from PIL import Image
import damage, net
from net import MARGIN

SCALES, SHARES = (8, 10, 12, 16), (.17, .18, .45, .20)     # truth pixels per source pixel


def bits(b): return Image.open(io.BytesIO(b)).tobytes()         # eight pixels a byte, 1 = paper


def load(paths):
    raw = []
    for p in paths:
        with tarfile.open(p) as t: raw += [(m.name, t.extractfile(m).read()) for m in t]
    raw.sort()
    out = torch.empty(len(raw), 2048, 2048, dtype=torch.uint8, device='cuda')
    shifts = torch.arange(7, -1, -1, dtype=torch.uint8, device='cuda')
    with ProcessPoolExecutor(12) as ex:
        for i, b in enumerate(ex.map(bits, [b for _, b in raw], chunksize=16)):
            t = torch.frombuffer(bytearray(b), dtype=torch.uint8).cuda()
            out[i] = (t[:, None] >> shifts & 1 ^ 1).view(2048, 2048)
    return out


class Sizes:
    """For one scale: crop, batch and the matrices that go with them."""
    def __init__(s, k, batch):
        s.k, s.n = k, min(160, (2048 // k - 8) // 8 * 8)
        s.batch = round(batch * (160 / s.n) ** 2)
        s.banks = damage.bank(k, s.n + 8)
        s.inner = s.n - 2 * MARGIN - 2
        s.maps = [[net.grid_maps(s.n, s.n, y, x).cuda() for x in range(8)] for y in range(8)]
        s.S = net.sampler(2 * (s.n - 2 * MARGIN), k, 1, s.n - 2 * MARGIN - 1, clamp=False).cuda()


def batches(truths, sizes, draw=4):
    """Endless (size, input, truth, invert, kind); damage is drawn for four batches at once."""
    while True:
        z = sizes[np.random.choice(len(sizes), p=SHARES)]
        side, B = (z.n + 8) * z.k, z.batch * draw
        ii = np.random.randint(0, len(truths), B); yx = np.random.randint(0, 2048 - side + 1, (B, 2))
        crop = torch.stack([truths[i, y:y + side, x:x + side] for i, (y, x) in zip(ii, yx)])
        turn = np.random.randint(8)
        if turn & 1: crop = crop.flip(1)
        if turn & 2: crop = crop.flip(2)
        if turn & 4: crop = crop.transpose(1, 2).contiguous()
        ink, (oy, ox), known, kind, invert = damage.source(crop, z.banks)
        x = torch.cat([(ink * 2 - 1)[:, None], z.maps[oy][ox] * known[:, None, None, None]], 1)
        if np.random.rand() < .1: x[:, :1, :MARGIN] = x[:, :1, MARGIN:MARGIN + 1]       # the picture ends here
        x = x.contiguous(memory_format=torch.channels_last)
        y, x0 = (-oy % 8 + MARGIN + 1) * z.k, (-ox % 8 + MARGIN + 1) * z.k
        truth = crop[:, y:y + z.inner * z.k, x0:x0 + z.inner * z.k]
        for q in range(0, B, z.batch):
            s = slice(q, q + z.batch)
            yield z, x[s], truth[s], invert[s].to(torch.uint8), kind[s]


def off_edge(truth, k):
    """0 on the true edge, rising to 1 about .75 source px away from it."""
    b = F.avg_pool2d(truth[:, None].half(), k // 2)
    b = F.avg_pool2d(b, 3, 1, 1, count_include_pad=False)
    return (2 * F.interpolate(b, size=truth.shape[1:], mode='bilinear')[:, 0] - 1).abs()


def point_loss(u, truth, invert, off, sharp):
    """Cross-entropy of 4U, then also the (soft) share of wrong film, dearer the farther it lies from the true edge:
    jitter is a root mean square."""
    q = torch.where(truth == invert[:, None, None], -u, u)
    return F.softplus(-4 * q).mean((1, 2)) + sharp * (torch.sigmoid(-12 * q) * (.5 + 6 * off)).mean((1, 2))


class Muon:
    """Momentum made orthogonal, for the stack of equal convolutions; steps as large as Adam's."""
    def __init__(s, params, momentum=.95):
        s.p, s.m, s.mu = params, torch.zeros(len(params), *params[0].flatten(1).shape, device='cuda'), momentum

    def step(s, lr, decay=.01):
        g = torch.stack([p.grad.flatten(1) for p in s.p])
        s.m.mul_(s.mu).add_(g)
        x = g + s.mu * s.m
        x = x / (x.norm(dim=(1, 2), keepdim=True) + 1e-7)
        for _ in range(5):
            a = x @ x.transpose(1, 2)
            x = 3.4445 * x + (-4.775 * a + 2.0315 * a @ a) @ x
        for p, d in zip(s.p, x): p.data.mul_(1 - lr * decay).add_(d.view_as(p), alpha=-lr * .2 * d.shape[1] ** .5)


if __name__ == '__main__':
    ap = argparse.ArgumentParser()
    ap.add_argument('truths', nargs='+'); ap.add_argument('--out', default='.'); ap.add_argument('--minutes', type=float, default=20)
    ap.add_argument('--lr', type=float, default=2e-3); ap.add_argument('--batch', type=int, default=32); ap.add_argument('--muon', action='store_true')
    ap.add_argument('--seed', type=int, default=1); ap.add_argument('--weights'); ap.add_argument('--sharp', type=float, default=.5)
    ap.add_argument('--span', default='0,1', help='the part of the schedule to go through')
    ap.add_argument('--steps', type=int, default=0, help='stop here: for trying the code')
    a = ap.parse_args()
    first, last = map(float, a.span.split(','))
    rank, world = int(os.environ.get('RANK', 0)), int(os.environ.get('WORLD_SIZE', 1))
    torch.cuda.set_device(int(os.environ.get('LOCAL_RANK', 0)))
    if world > 1: dist.init_process_group('nccl')
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = torch.backends.cudnn.benchmark = True
    say = lambda *x: rank == 0 and print(*x, flush=True)

    t0 = time.time()
    truths = load(a.truths)
    sizes = [Sizes(k, a.batch) for k in SCALES]
    say(f'{len(truths)} truths read in {time.time() - t0:.1f} s; {torch.cuda.get_device_name()}; crops {[(s.k, s.n, s.batch) for s in sizes]}')
    torch.manual_seed(a.seed)
    model = net.EdgeNet().cuda().to(memory_format=torch.channels_last)
    if a.weights and a.weights.endswith('.bin'): model.load_state_dict(net.widened(net.load_bin(a.weights)).state_dict())
    elif a.weights: model.load_state_dict(torch.load(a.weights))
    params = list(model.parameters())
    run = torch.compile(model, dynamic=False)
    mean = [p.detach().clone() for p in params]
    names = [n for n, _ in model.named_parameters()]
    square = [p for n, p in zip(names, params) if a.muon and n.startswith('body') and p.dim() == 4]
    muon = Muon(square) if a.muon else None
    rest = [p for p in params if not any(p is q for q in square)]
    adam = torch.optim.AdamW(rest, lr=a.lr, betas=(.9, .99), weight_decay=.01, fused=True)
    loss_of = torch.compile(point_loss, dynamic=True)
    weight = torch.tensor(damage.WEIGHT, device='cuda')
    np.random.seed(a.seed + 1000 * rank); torch.manual_seed(a.seed + 1000 * rank)

    feed = batches(truths, sizes)
    seen, total, step, t = torch.zeros(6, device='cuda'), torch.zeros(6, device='cuda'), 0, 0.
    start = said = saved = time.time()
    while t < 1:
        if step % 16 == 0:
            c = torch.tensor([(time.time() - start) / (60 * a.minutes)], device='cuda')
            if world > 1: dist.broadcast(c, 0)
            t = min(1., c.item())
            at = first + (last - first) * t
            lr = a.lr * min(1, (step + 1) / 300) * (.5 + .5 * np.cos(np.pi * at)) + 1e-6
            sharp = torch.tensor(0. if at < a.sharp else 2., device='cuda')
        z, x, truth, invert, kind = next(feed)
        with torch.autocast('cuda', torch.bfloat16): c = run(x)
        u = z.S @ c @ z.S.T
        each = loss_of(u, truth, invert, off_edge(truth, z.k), sharp)
        (each * weight[kind]).mean().backward()
        if world > 1:
            flat = torch.cat([p.grad.flatten() for p in params]); dist.all_reduce(flat); flat /= world
            torch._foreach_copy_([p.grad for p in params], [g.view_as(p) for p, g in zip(params, flat.split([p.numel() for p in params]))])
        torch.nn.utils.clip_grad_norm_(params, 1.)
        for g in adam.param_groups: g['lr'] = lr
        adam.step()
        if muon: muon.step(lr)
        torch._foreach_lerp_(mean, [p.data for p in params], 1 - min(.999, (1 + step) / (10 + step)))
        for p in params: p.grad = None
        seen.index_add_(0, kind, torch.ones_like(each)); total.index_add_(0, kind, each.detach())
        step += 1
        now = time.time()
        if rank == 0 and (step in (20, 100) or now - said > 20 or t >= 1):
            l = (total / seen * 1e3).tolist(); seen.zero_(); total.zero_(); said = now
            say(f'step {step} t {t:.3f} {now - start:.0f} s lr {lr:.1e}  loss x 1000: ' + '  '.join(f'{n} {v:.2f}' for n, v in zip(damage.KINDS, l)))
        if rank == 0 and (now - saved > 60 or t >= 1 or step == a.steps):
            saved = now
            os.makedirs(a.out, exist_ok=True)
            torch.save(dict(zip(names, [m.cpu().contiguous() for m in mean])), f'{a.out}/edge.tmp'); os.replace(f'{a.out}/edge.tmp', f'{a.out}/edge.pt')
        if step == a.steps: break
    torch.cuda.synchronize()
    say(f'{step} steps of about {a.batch * world} crops in {time.time() - start:.0f} s; memory {torch.cuda.max_memory_allocated() / 2 ** 30:.1f} GiB')
    if world > 1: dist.destroy_process_group()
