use crate::FilmError;
use crate::canvas::{Align, Canvas};
use crate::font::{BOLD, REGULAR};
use crate::pdf::{Page, Pdf};
use measure::{Length, Unit};
use printer::{GAPS, LINES, PATCH_PITCH, PATCHES, Profile, Target};
use std::io::Write;

/// Writes the calibration page: nine crosses to measure between, gaps and lines, density
/// patches, and a form for what is read. Drawn for a printer's profile, it comes out true if
/// the profile is right.
///
/// # Errors
/// When `out` fails.
pub fn write_calibration(
    target: &Target,
    made_with: &Profile,
    out: &mut impl Write,
) -> Result<(), FilmError> {
    let drawing = Drawing { target, choke: made_with.spread.to_mm() };
    let mut canvas = Canvas::default();
    let pt = Length::mm(1.0).to_pt();
    let frame = [pt, 0.0, 0.0, -pt, 0.0, target.page.height.to_pt()];
    canvas.finely_within(made_with.drawn_from_true(target.page), |canvas| {
        canvas.within(frame, |canvas| drawing.draw(canvas, made_with));
    });
    let mut pdf = Pdf::new("Printer calibration");
    let (size, content) = (target.page, canvas.finish());
    pdf.add(Page { size, label: "1".into(), content, images: Vec::new() });
    pdf.finish(out)?;
    Ok(())
}

/// Lengths below are millimetres on the page.
const ARM: f64 = 5.0;
const HAIR: f64 = 0.1;
const TEXT: f64 = 3.6;
const LEADING: f64 = 5.2;
const PATCH: (f64, f64) = (14.0, 10.0);
const BLOCK: (f64, f64) = (7.0, 3.0);

struct Drawing<'a> {
    target: &'a Target,
    /// How far edges are drawn in, so that spreading ink brings them where they belong.
    choke: f64,
}

impl Drawing<'_> {
    fn draw(&self, canvas: &mut Canvas, made_with: &Profile) {
        let crosses = self.target.crosses_mm();
        for (letter, x, y) in crosses {
            // Filled, since readers move thin strokes to whole pixels.
            canvas.rect(x - ARM, y - HAIR / 2.0, 2.0 * ARM, HAIR);
            canvas.rect(x - HAIR / 2.0, y - ARM, HAIR, 2.0 * ARM);
            canvas.text(&BOLD, 4.2, (x + 1.2, y + 5.2), Align::Left, &letter.to_string());
        }
        let at = |n: usize| (crosses[n].1, crosses[n].2);
        for (from, to) in [(0, 2), (3, 5), (6, 8), (0, 6), (1, 7), (2, 8)] {
            bar(canvas, at(from), at(to), f64::INFINITY);
        }
        // Diagonals are only begun: what stands between must stay legible.
        for (from, to) in [(0, 8), (8, 0), (2, 6), (6, 2)] {
            bar(canvas, at(from), at(to), 22.0);
        }
        let (left, top) = at(0);
        let (middle, half) = at(4);
        self.words(canvas, (left + 14.0, top + 18.0), middle - left - 22.0, made_with);
        self.gaps(canvas, (middle + 16.0, top + 20.0));
        self.patches(canvas, (left + 22.0, half + 18.0));
        self.form(canvas, (middle + 14.0, half + 20.0));
    }

    fn words(&self, canvas: &mut Canvas, (x, mut y): (f64, f64), room: f64, made_with: &Profile) {
        canvas.text(&BOLD, 7.0, (x, y), Align::Left, "Printer calibration");
        y += 5.0;
        let names = [&made_with.printer[..], &made_with.film].join(", ");
        let names = names.trim_matches([',', ' ']).to_owned();
        let kind = if made_with.moves() || self.choke != 0.0 {
            "This page is corrected: it should come out true."
        } else {
            "This page is not corrected."
        };
        let text = [
            &names[..],
            kind,
            "",
            "Print at 100 %, \"actual size\", on the film",
            "that you make positives on.",
            "Let it lie for an hour, flat.",
            "Lay a steel rule from cross to cross and read",
            "to a quarter of a millimetre, from the middle",
            "of one hairline to the middle of the other.",
            "Then find the narrowest gap that is open all",
            "along, and the narrowest line that is whole,",
            "with a magnifier over a light table.",
            "With a densitometer, read the patches too.",
        ];
        for line in text {
            y += LEADING;
            let line = REGULAR.shortened(line, TEXT, room);
            canvas.text(&REGULAR, TEXT, (x, y), Align::Left, &line);
        }
    }

    /// Pairs of blocks with a gap between them, and lines, each in both directions.
    fn gaps(&self, canvas: &mut Canvas, (x, y): (f64, f64)) {
        let step = 7.2;
        canvas.text(&BOLD, TEXT, (x, y - 2.0), Align::Left, "Gaps, mm");
        canvas.text(&BOLD, TEXT, (x + 38.0, y - 2.0), Align::Left, "Lines, mm");
        for (n, (gap, line)) in GAPS.iter().zip(&LINES).enumerate() {
            let (gap, line, y) = (gap.to_mm(), line.to_mm(), y + step * n as f64);
            let (long, deep) = BLOCK;
            let half = (deep - gap) / 2.0;
            self.block(canvas, (x, y, long, half));
            self.block(canvas, (x, y + half + gap, long, half));
            let upright = x + long + 3.0;
            self.block(canvas, (upright, y, half, 5.4));
            self.block(canvas, (upright + half + gap, y, half, 5.4));
            let label = format!("{gap}");
            canvas.text(&REGULAR, TEXT, (upright + 6.0, y + 3.4), Align::Left, &label);
            self.block(canvas, (x + 38.0, y + 1.0, long, line));
            self.block(canvas, (x + 49.0, y, line, 5.4));
            canvas.text(&REGULAR, TEXT, (x + 53.0, y + 3.4), Align::Left, &label);
        }
    }

    /// Patches of upright lines that cover a share of the film.
    fn patches(&self, canvas: &mut Canvas, (x, y): (f64, f64)) {
        canvas.text(&BOLD, TEXT, (x, y - 2.0), Align::Left, "Density patches, % ink");
        let pitch = PATCH_PITCH.to_mm();
        for (n, share) in PATCHES.iter().enumerate() {
            let (column, row) = (n / 6, n % 6);
            let (x, y) = (x + 32.0 * column as f64, y + (PATCH.1 + 3.0) * row as f64);
            if *share == 1.0 {
                self.block(canvas, (x, y, PATCH.0, PATCH.1));
            } else if *share > 0.0 {
                for line in 0..(PATCH.0 / pitch) as usize {
                    self.block(canvas, (x + line as f64 * pitch, y, pitch * share, PATCH.1));
                }
            }
            let label = format!("{:.0}", share * 100.0);
            canvas.text(&REGULAR, TEXT, (x + PATCH.0 + 2.0, y + 6.0), Align::Left, &label);
        }
    }

    fn form(&self, canvas: &mut Canvas, (x, mut y): (f64, f64)) {
        let mm = |l: Length| format!("{:.1}", l.to_mm());
        let [across, down, diagonal] =
            [self.target.width, self.target.height, self.target.diagonal()].map(mm);
        let lines = [
            ("A to C, across", &across),
            ("D to F", &across),
            ("G to I", &across),
            ("A to G, down", &down),
            ("B to H", &down),
            ("C to I", &down),
            ("A to I, falling", &diagonal),
            ("G to C, rising", &diagonal),
        ];
        canvas.text(&BOLD, TEXT, (x, y - 2.0), Align::Left, "Read, mm (drawn)");
        for (what, drawn) in lines {
            y += 8.0;
            canvas.text(&REGULAR, TEXT, (x, y), Align::Left, &format!("{what} ({drawn})"));
            canvas.line(&[(x + 46.0, y + 0.6), (x + 68.0, y + 0.6)], HAIR);
        }
        for what in ["Narrowest open gap", "Narrowest whole line"] {
            y += 8.0;
            canvas.text(&REGULAR, TEXT, (x, y), Align::Left, what);
            canvas.line(&[(x + 46.0, y + 0.6), (x + 68.0, y + 0.6)], HAIR);
        }
        let width = self.target.page.width.show(Unit::Mm);
        let height = self.target.page.height.show(Unit::Mm);
        y += 10.0;
        canvas.text(&REGULAR, TEXT, (x, y), Align::Left, &format!("Sheet {width} x {height}"));
    }

    /// A solid block whose edges are drawn in, no further than to a hairline.
    fn block(&self, canvas: &mut Canvas, (x, y, width, height): (f64, f64, f64, f64)) {
        let by = |side: f64| self.choke.min((side - 0.01) / 2.0);
        let (dx, dy) = (by(width), by(height));
        canvas.rect(x + dx, y + dy, width - 2.0 * dx, height - 2.0 * dy);
    }
}

/// A thin line from one cross towards another, clear of both, as long as `most`.
fn bar(canvas: &mut Canvas, from: (f64, f64), to: (f64, f64), most: f64) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let long = dx.hypot(dy);
    let (u, v) = (dx / long, dy / long);
    let end = (long - ARM - 1.0).min(ARM + 1.0 + most);
    let at = |along: f64| (from.0 + u * along, from.1 + v * along);
    canvas.line(&[at(ARM + 1.0), at(end)], HAIR);
}
