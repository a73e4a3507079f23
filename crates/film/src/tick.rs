use crate::PxRect;
use bitmap::Bitmap;
use measure::{Length, Resolution};

/// A registration tick: crossed hairlines at a place on the film, drawn on each of two
/// sheets that overlap there, so that they lie on each other when the sheets are taped
/// rightly. With a vernier, one sheet carries lines 1 mm apart along both hairlines and the
/// other lines 0.9 mm apart: the pair that meets tells the slip in tenths of a millimetre.
#[derive(Clone, Debug)]
pub(crate) struct Tick {
    /// Where the hairlines cross, in film pixels.
    x: i64,
    y: i64,
    /// Which of the two sheets this is for, where there is a vernier.
    vernier: Option<usize>,
    arm: i64,
    /// How far vernier lines stand off the hairline.
    off: i64,
    thick: i64,
    /// A vernier's lines lie this far apart, in pixels.
    pitch: f64,
}

/// Vernier lines on either side of the cross: slips of up to this many tenths can be read.
const LINES: i64 = 4;
/// Thin enough that a screen of common mesh does not hold it.
const THICK: Length = Length::mm(0.1);

impl Tick {
    pub(crate) fn new(x: i64, y: i64, vernier: Option<usize>, resolution: Resolution) -> Self {
        let px = |mm| resolution.whole_px(Length::mm(mm));
        let pitch = [1.0, 0.9][vernier.unwrap_or(0) % 2];
        Self {
            x,
            y,
            vernier,
            arm: if vernier.is_some() { px(4.3) } else { px(2.5) },
            off: if vernier.is_some() { px(0.8) } else { 0 },
            thick: resolution.whole_px(THICK).max(1),
            pitch: resolution.px(Length::mm(pitch)),
        }
    }

    /// The box around all of it.
    pub(crate) fn place(&self) -> PxRect {
        PxRect::new(self.x - self.arm, self.y - self.arm, 2 * self.arm + 1, 2 * self.arm + 1)
    }

    /// Smaller boxes that together hold all of it: along either hairline.
    pub(crate) fn boxes(&self) -> impl Iterator<Item = PxRect> {
        let wide = self.off.max(self.thick);
        let around = PxRect::between(
            self.x - self.arm,
            self.y - wide,
            self.x + self.arm + 1,
            self.y + wide + 1,
        );
        let above = PxRect::between(self.x - wide, self.y - self.arm, self.x + wide + 1, around.y);
        let below = PxRect::between(
            self.x - wide,
            around.bottom(),
            self.x + wide + 1,
            self.y + self.arm + 1,
        );
        [around, above, below].into_iter()
    }

    /// The pixels of its lines, within [`Tick::place`].
    pub(crate) fn drawn(&self) -> Bitmap {
        let PxRect { x: left, y: top, width, height } = self.place();
        let mut out = Bitmap::new(width as u32, height as u32);
        let mut fill = |part: PxRect| {
            let part = part.intersect(self.place()).moved(-left, -top);
            for y in part.y..part.bottom() {
                for x in part.x..part.right() {
                    out.set(x as u32, y as u32, true);
                }
            }
        };
        let half = self.thick / 2;
        let (arm, thick) = (self.arm, self.thick);
        fill(PxRect::new(self.x - arm, self.y - half, 2 * arm + 1, thick));
        fill(PxRect::new(self.x - half, self.y - arm, thick, 2 * arm + 1));
        if let Some(side) = self.vernier {
            // The first sheet's lines stand above and left of the hairlines, the second's
            // below and right: where the sheets lie on each other they point at each other.
            let from = if side == 0 { -self.off } else { 0 };
            for line in (-LINES..=LINES).filter(|line| *line != 0) {
                let at = (line as f64 * self.pitch).round() as i64 - half;
                fill(PxRect::new(self.x + at, self.y + from, thick, self.off + 1));
                fill(PxRect::new(self.x + from, self.y + at, self.off + 1, thick));
            }
        }
        out
    }
}
