use crate::image::Image;

/// What colour art has been through, which decides how its inks and edges are found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Damage {
    /// Anti-aliased and undamaged.
    Clean,
    /// Noisy, with this standard deviation in each channel of 0..=255.
    Noisy(f32),
    /// Damaged by JPEG.
    Jpeg,
}

impl Damage {
    /// Looks at a picture and decides. A picture that came as JPEG needs no look.
    pub(crate) fn of(image: &Image) -> Self {
        let sigma = noise(image);
        if sigma > 1.2 {
            Self::Noisy(sigma)
        } else if ripples(image) > 0.6 {
            Self::Jpeg
        } else {
            Self::Clean
        }
    }
}

/// The noise's standard deviation: the median response of a kernel that is blind to slopes
/// and straight edges (Immerkaer 1996), over windows that are not clipped at black or white.
fn noise(image: &Image) -> f32 {
    let mut free = Vec::new();
    let mut clipped = Vec::new();
    for y in 1..image.height.saturating_sub(1) as isize {
        for x in 1..image.width.saturating_sub(1) as isize {
            for channel in 0..3 {
                let (mut sum, mut low, mut high) = (0.0, f32::MAX, f32::MIN);
                for dy in -1..=1 {
                    for dx in -1..=1_isize {
                        let v = image.at(x + dx, y + dy)[channel];
                        let weight =
                            (if dx == 0 { -2.0 } else { 1.0 }) * (if dy == 0 { -2.0 } else { 1.0 });
                        sum += weight * v;
                        (low, high) = (low.min(v), high.max(v));
                    }
                }
                if low > 0.5 && high < 254.5 {
                    free.push(sum.abs())
                } else {
                    clipped.push(sum.abs())
                }
            }
        }
    }
    // Clipping halves the noise at worst: read it only where nothing else is there.
    let (responses, scale) = if free.len() >= 600 { (&mut free, 1.0) } else { (&mut clipped, 1.7) };
    if responses.is_empty() {
        return 0.0;
    }
    let middle = responses.len() / 2;
    let (_, median, _) = responses.select_nth_unstable_by(middle, f32::total_cmp);
    *median * scale / 6.0 / 0.6745
}

/// How many faint steps between neighbours there are for each plain one. Clean art steps
/// from ink to ink in one or two pixels; JPEG leaves ripples beside every edge.
fn ripples(image: &Image) -> f32 {
    let (mut faint, mut plain) = (0_u32, 0_u32);
    for y in 0..image.height as isize {
        for x in 1..image.width as isize {
            let (p, q) = (image.at(x, y), image.at(x - 1, y));
            let step = (0..3).map(|c| (p[c] - q[c]).abs()).fold(0.0, f32::max);
            if step > 4.0 {
                plain += 1;
            } else if step > 0.5 {
                faint += 1;
            }
        }
    }
    faint as f32 / plain.max(1) as f32
}
