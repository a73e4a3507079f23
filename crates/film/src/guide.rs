use crate::canvas::{Align, Canvas};
use crate::font::{BOLD, Face, REGULAR};
use crate::map::{Look, Map};
use crate::pdf::{Page, Pdf};
use crate::taping::{KNIFE, PRINTED_SIDE, SEAM_STEPS, TAPING_SIDE, checks_text, join_text};
use crate::{FilmError, FilmJob};
use measure::{Length, Point, Size, Unit};
use sheets::{Assembly, Check};
use std::io::Write;

/// Writes the guide by which the printed sheets are taped into one film: maps of the sheets
/// from both sides, the order of joining, what to do at each seam, and what must measure
/// right. `paper` is the paper of an office printer, upright; `seams` are the cuts, and
/// `assembly` refers to them and to the job's sheets by number.
///
/// # Errors
/// When `out` fails.
pub fn write_guide(
    job: &FilmJob,
    seams: &[Vec<Point>],
    assembly: &Assembly,
    paper: Size,
    out: &mut impl Write,
) -> Result<(), FilmError> {
    let mut guide = Guide::new(job, paper);
    guide.front(seams, assembly);
    guide.steps(seams, assembly);
    guide.close();
    let mut pdf = Pdf::new(&format!("{}: assembly guide", job.title));
    for (n, canvas) in guide.pages.into_iter().enumerate() {
        let content = canvas.finish();
        pdf.add(Page { size: paper, label: (n + 1).to_string(), content, images: Vec::new() });
    }
    pdf.finish(out)?;
    Ok(())
}

/// Lengths below are millimetres on the paper.
const MARGIN: f64 = 15.0;
const TEXT: f64 = 3.9;
const LEADING: f64 = 5.4;

/// Pages being filled from the top.
struct Guide<'a> {
    job: &'a FilmJob<'a>,
    paper: Size,
    pages: Vec<Canvas>,
    /// What is being drawn now, in millimetres from the paper's top-left corner.
    canvas: Canvas,
    /// How far down the page is filled.
    y: f64,
}

impl<'a> Guide<'a> {
    fn new(job: &'a FilmJob<'a>, paper: Size) -> Self {
        Self { job, paper, pages: Vec::new(), canvas: Canvas::default(), y: MARGIN }
    }

    fn width(&self) -> f64 {
        self.paper.width.to_mm() - 2.0 * MARGIN
    }

    fn bottom(&self) -> f64 {
        self.paper.height.to_mm() - MARGIN - 6.0
    }

    /// Finishes the page and starts another.
    fn close(&mut self) {
        let foot = (self.paper.width.to_mm() / 2.0, self.paper.height.to_mm() - MARGIN);
        let number = format!("{}  \u{b7}  {}", self.job.title, self.pages.len() + 1);
        self.canvas.text(&REGULAR, 3.0, foot, Align::Center, &number);
        let drawn = std::mem::take(&mut self.canvas);
        let pt = Length::mm(1.0).to_pt();
        let mut page = Canvas::default();
        page.within([pt, 0.0, 0.0, -pt, 0.0, self.paper.height.to_pt()], |page| page.extend(drawn));
        self.pages.push(page);
        self.y = MARGIN;
    }

    /// Makes sure of so much room on this page.
    fn need(&mut self, room: f64) {
        if self.y + room > self.bottom() {
            self.close();
        }
    }

    fn heading(&mut self, text: &str, size: f64) {
        self.y += size;
        let text = BOLD.shortened(text, size, self.width());
        self.canvas.text(&BOLD, size, (MARGIN, self.y), Align::Left, &text);
        self.y += size * 0.55;
    }

    /// A paragraph in a column from `left`, as wide as `width`; moves down past it.
    fn paragraph(&mut self, face: &Face, text: &str, left: f64, width: f64) {
        for line in wrapped(face, text, TEXT, width) {
            self.y += LEADING;
            self.canvas.text(face, TEXT, (left, self.y), Align::Left, &line);
        }
        self.y += 1.2;
    }

    /// The first page: what this is, and the map from both sides.
    fn front(&mut self, seams: &[Vec<Point>], assembly: &Assembly) {
        let job = self.job;
        self.heading(job.title, 8.0);
        let px = |n: u32| job.resolution.length(f64::from(n));
        let film = [px(job.raster.width()), px(job.raster.height())];
        let [mm, inches] = [Unit::Mm, Unit::In].map(|unit| film.map(|l| l.show(unit)).join(" x "));
        let count = job.sheets.len();
        let sheets = if count == 1 { "One sheet".into() } else { format!("{count} sheets") };
        let overlap = [Unit::Mm, Unit::In].map(|unit| job.overlap.show(unit)).join(", ");
        self.paragraph(
            &REGULAR,
            &format!("{sheets}. Film {mm} ({inches}). Overlaps of at least {overlap}."),
            MARGIN,
            self.width(),
        );
        let checked = "Print the sheets at 100 %, then hold a steel rule to the ruler on each.";
        self.paragraph(&REGULAR, checked, MARGIN, self.width());
        let rest = self.bottom() - self.y - 30.0;
        self.map(TAPING_SIDE, seams, true, rest * 0.64);
        self.map(PRINTED_SIDE, seams, false, rest * 0.36);
        if !assembly.joins.is_empty() {
            self.close();
        }
    }

    fn map(&mut self, title: &str, seams: &[Vec<Point>], mirrored: bool, high: f64) {
        self.y += 3.0;
        self.heading(title, 4.6);
        let map = Map::new(
            self.job,
            seams,
            mirrored,
            (MARGIN + 12.0, self.y + 1.0),
            (self.width() - 12.0, high),
        );
        map.draw(&mut self.canvas, |_| Look::Plain, &[]);
        map.draw_up(&mut self.canvas, (MARGIN + 4.0, self.y + 1.0));
        self.y += high + 3.0;
    }

    /// How seams are made, then every join in order, then the last measures.
    fn steps(&mut self, seams: &[Vec<Point>], assembly: &Assembly) {
        if assembly.joins.is_empty() {
            return;
        }
        self.heading("At every seam", 6.0);
        for (n, step) in SEAM_STEPS.iter().enumerate() {
            self.y += LEADING;
            let number = format!("{}", n + 1);
            self.canvas.text(&BOLD, TEXT, (MARGIN, self.y), Align::Left, &number);
            self.y -= LEADING;
            self.paragraph(&REGULAR, step, MARGIN + 7.0, self.width() - 7.0);
        }
        self.paragraph(&BOLD, KNIFE, MARGIN, self.width());
        self.y += 4.0;
        self.heading("In this order", 6.0);
        for n in 0..assembly.joins.len() {
            self.join(n, seams, assembly);
        }
        self.need(30.0 + LEADING * assembly.checks.len() as f64);
        self.heading("When all is taped", 6.0);
        self.checks(&assembly.checks, MARGIN, self.width());
    }

    /// One join: a small map from the taping side, and beside it what to do.
    fn join(&mut self, n: usize, seams: &[Vec<Point>], assembly: &Assembly) {
        const MAP: (f64, f64) = (58.0, 50.0);
        let join = &assembly.joins[n];
        self.need(MAP.1 + 6.0);
        let top = self.y;
        let map = Map::new(self.job, seams, true, (MARGIN, top + 1.0), MAP);
        let look = |sheet| match (join.below.contains(&sheet), join.above.contains(&sheet)) {
            (true, _) => Look::Below,
            (_, true) => Look::Above,
            _ => Look::Aside,
        };
        map.draw(&mut self.canvas, look, &join.seams);
        let (left, width) = (MARGIN + MAP.0 + 6.0, self.width() - MAP.0 - 6.0);
        let names: Vec<&str> = self.job.sheets.iter().map(|s| s.name.as_str()).collect();
        let text = join_text(n, assembly, &names, seams);
        self.paragraph(&BOLD, &text.title, left, width);
        self.paragraph(&REGULAR, &text.layers, left, width);
        self.checks(&join.checks, left, width);
        self.y = self.y.max(top + MAP.1 + 4.0) + 3.0;
    }

    /// The diagonals and edges that must measure right.
    fn checks(&mut self, checks: &[Check], left: f64, width: f64) {
        if let Some(text) = checks_text(checks) {
            self.paragraph(&REGULAR, &text, left, width);
        }
    }
}

/// The text in lines no wider than `room`.
fn wrapped(face: &Face, text: &str, size: f64, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.last_mut().map(std::mem::take).unwrap_or_default();
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        let fits = line.is_empty() || face.width(&longer, size) <= room;
        if let Some(last) = lines.last_mut() {
            *last = if fits { longer } else { line };
        }
        if !fits {
            lines.push(word.to_owned());
        }
    }
    lines.iter().map(|line| face.shortened(line, size, room)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FilmSheet, PxRect};
    use bitmap::Bitmap;
    use lopdf::content::Content;
    use measure::Resolution;
    use sheets::{Risk, Seam};

    /// Four sheets of different sizes on a film of 500 x 400 px at 10 ppi.
    fn job(raster: &Bitmap) -> FilmJob<'_> {
        let sheet = |name: &str, x, y, width, height| FilmSheet {
            name: name.into(),
            image: PxRect::new(x, y, width, height),
            turned: false,
            page: Size::new(Length::inches(40.0), Length::inches(40.0)),
            printable: PxRect::new(0, 0, 400, 400),
            image_x: 0,
            image_y: 0,
        };
        let sheets = vec![
            sheet("A1", 0, 0, 200, 210),
            sheet("A2", 190, 0, 310, 250),
            sheet("B1", 0, 200, 270, 200),
            sheet("B2", 260, 240, 240, 160),
        ];
        FilmJob {
            raster,
            resolution: Resolution::ppi(10.0),
            title: "Night market",
            sheets,
            seams: Vec::new(),
            overlap: Length::inches(1.0),
            lower_bound: 4,
            trim_lines: false,
            print: None,
            screen: None,
            printer: None,
        }
    }

    fn assembly() -> (Vec<Vec<Point>>, Assembly) {
        let inches = |x: f64, y: f64| Point::new(Length::inches(x), Length::inches(y));
        let cuts = [
            (0, 1, vec![inches(19.5, 0.0), inches(19.6, 10.0), inches(19.5, 20.5)]),
            (2, 3, vec![inches(26.5, 24.0), inches(26.5, 40.0)]),
            (0, 2, vec![inches(0.0, 20.5), inches(19.5, 20.5)]),
            (1, 3, vec![inches(26.5, 24.5), inches(50.0, 24.5)]),
        ];
        let seams = cuts.map(|(a, b, points)| Seam {
            between: [a, b],
            vertical: false,
            points,
            cost: 0.0,
            straight_cost: 0.0,
            risk: Risk::default(),
        });
        let rects = [
            (0.0, 0.0, 20.0, 21.0),
            (19.0, 0.0, 31.0, 25.0),
            (0.0, 20.0, 27.0, 20.0),
            (26.0, 24.0, 24.0, 16.0),
        ]
        .map(|(x, y, w, h)| {
            measure::Rect::new(inches(x, y), Size::new(Length::inches(w), Length::inches(h)))
        });
        let order = Assembly::of(&rects, &seams);
        (seams.into_iter().map(|seam| seam.points).collect(), order)
    }

    /// The outlines drawn on a page, in the page's millimetres, with those of a map together.
    fn outlines(content: &[u8]) -> Vec<[f64; 4]> {
        let operations = Content::decode(content).unwrap().operations;
        operations
            .windows(2)
            .filter(|two| two[0].operator == "re" && two[1].operator == "S")
            .map(|two| {
                let n: Vec<f64> =
                    two[0].operands.iter().map(|n| f64::from(n.as_float().unwrap())).collect();
                [n[0], n[1], n[2], n[3]]
            })
            .collect()
    }

    /// Put together again from what is drawn, the taping side is the film seen in a mirror
    /// and the printed side the film as it is.
    #[test]
    fn the_maps_show_the_film_from_both_sides() {
        let raster = Bitmap::new(500, 400);
        let job = job(&raster);
        let (seams, assembly) = assembly();
        let mut guide = Guide::new(&job, Size::new(Length::mm(210.0), Length::mm(297.0)));
        guide.front(&seams, &assembly);
        let drawn = outlines(&std::mem::take(&mut guide.pages[0]).finish());
        assert_eq!(drawn.len(), 8);
        for (map, mirrored) in drawn.chunks(4).zip([true, false]) {
            let left = map.iter().map(|r| r[0]).fold(f64::MAX, f64::min);
            let top = map.iter().map(|r| r[1]).fold(f64::MAX, f64::min);
            let right = map.iter().map(|r| r[0] + r[2]).fold(f64::MIN, f64::max);
            let px = (right - left) / 500.0;
            for (r, sheet) in map.iter().zip(&job.sheets) {
                let x = if mirrored { right - r[0] - r[2] } else { r[0] - left };
                let found = [x, r[1] - top, r[2], r[3]].map(|mm| (mm / px).round() as i64);
                let image = sheet.image;
                assert_eq!(found, [image.x, image.y, image.width, image.height], "{}", sheet.name);
            }
        }
    }

    #[test]
    fn every_page_stays_on_the_paper_and_names_every_sheet() {
        let raster = Bitmap::new(500, 400);
        let job = job(&raster);
        let (seams, assembly) = assembly();
        assert_eq!(assembly.joins.len(), 3);
        for paper in
            [(210.0, 297.0), (215.9, 279.4)].map(|(w, h)| Size::new(Length::mm(w), Length::mm(h)))
        {
            let mut file = Vec::new();
            write_guide(&job, &seams, &assembly, paper, &mut file).unwrap();
            let doc = lopdf::Document::load_mem(&file).unwrap();
            let mut names = 0;
            for id in doc.page_iter() {
                let page =
                    crate::read_page::read_page(&doc, id, crate::read_page::AS_DRAWN).unwrap();
                let [_, _, right, top] = page.media;
                for b in page.painted.iter().filter(|b| b[0] <= b[2]) {
                    assert!(
                        b[0] > 20.0 && b[1] > 20.0 && b[2] < right - 20.0 && b[3] < top - 20.0,
                        "{b:?}"
                    );
                }
                names += page.texts.iter().filter(|(_, text)| *text == BOLD.glyphs("B2")).count();
            }
            // Twice on the first page and once at every join.
            assert_eq!(names, 2 + assembly.joins.len());
        }
    }

    #[test]
    fn lines_break_between_words_within_the_room() {
        let text = "Tape the overlap on top at both ends and in the middle";
        let lines = wrapped(&REGULAR, text, TEXT, 40.0);
        assert!(lines.len() > 2 && lines.join(" ") == text, "{lines:?}");
        assert!(lines.iter().all(|line| REGULAR.width(line, TEXT) <= 40.0));
    }
}
