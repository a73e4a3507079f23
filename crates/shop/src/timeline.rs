use crate::drawing::{Anchor, at_mm, rect_mm};
use crate::figure::{number, show_time};
use crate::settings::{check_number, choice};
use crate::{Drawing, Error, Pen, Quantity, Section, Source};
use measure::{Length, Size};
use serde::{Deserialize, Serialize};

choice! {
    /// What a step is done for.
    pub enum Per {
        /// Once for the screen.
        #[default]
        Screen = "screen",
        /// For every sheet of film.
        Sheet = "sheet",
        /// For every exposure.
        Exposure = "exposure",
        /// For every garment.
        Garment = "garment",
        /// For every garment that all screens have printed.
        Finished = "finished garment",
    }
}

/// One step of the work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// What is done.
    pub name: String,
    /// Minutes of hands-on work.
    pub hands_minutes: f64,
    /// Minutes of waiting after it: drying, printing, exposing.
    pub wait_minutes: f64,
    /// What it is done for.
    pub per: Per,
}

/// How many of each there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counts {
    /// Sheets of film.
    pub sheets: u32,
    /// Exposures.
    pub exposures: u32,
    /// Garments.
    pub garments: u32,
    /// Garments that are finished with this screen: none where others print on them after it.
    pub finished: u32,
}

/// One step placed in time, in seconds from the start.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Placed {
    /// What is done.
    pub name: String,
    /// When it begins.
    pub start_secs: f64,
    /// How long hands are needed, waiting between repeats included.
    pub hands_secs: f64,
    /// How long is waited.
    pub wait_secs: f64,
    /// When it is over.
    pub end_secs: f64,
}

/// The steps from film to clean screen. Common practice, no source: time your own.
pub fn common_steps() -> Vec<Step> {
    let step = |name: &str, hands_minutes, wait_minutes, per| Step {
        name: name.into(),
        hands_minutes,
        wait_minutes,
        per,
    };
    vec![
        step("print the films", 0.5, 2.0, Per::Sheet),
        step("tape the films", 3.0, 0.0, Per::Sheet),
        step("check the film", 10.0, 0.0, Per::Screen),
        step("degrease the mesh", 10.0, 60.0, Per::Screen),
        step("coat the screen", 10.0, 120.0, Per::Screen),
        step("place the film", 10.0, 0.0, Per::Screen),
        step("expose", 2.0, 5.0, Per::Exposure),
        step("wash out", 10.0, 60.0, Per::Screen),
        step("touch up", 15.0, 20.0, Per::Screen),
        step("set up the table", 25.0, 0.0, Per::Screen),
        step("print", 4.0, 0.0, Per::Garment),
        step("last print dries", 0.0, 30.0, Per::Screen),
        step("cure", 1.5, 3.0, Per::Finished),
        step("clean up", 20.0, 0.0, Per::Screen),
    ]
}

impl Step {
    /// How often the step is done.
    pub fn times(&self, counts: Counts) -> u32 {
        match self.per {
            Per::Screen => 1,
            Per::Sheet => counts.sheets,
            Per::Exposure => counts.exposures,
            Per::Garment => counts.garments,
            Per::Finished => counts.finished,
        }
    }

    pub(crate) fn check(&self) -> Result<(), Error> {
        check_number(
            &format!("hands-on time of \"{}\"", self.name),
            self.hands_minutes,
            0.0..=10_000.0,
            "min",
        )?;
        check_number(
            &format!("waiting time of \"{}\"", self.name),
            self.wait_minutes,
            0.0..=100_000.0,
            "min",
        )
    }
}

/// Hands-on seconds of each step that is done for every garment, or of each that is not; steps
/// that take none are left out.
pub fn hands_by_step(steps: &[Step], counts: Counts, garment: bool) -> Vec<(String, f64)> {
    let each = |s: &&Step| matches!(s.per, Per::Garment | Per::Finished) == garment;
    let chosen = steps.iter().filter(each);
    chosen
        .map(|s| (s.name.clone(), s.hands_minutes * 60.0 * f64::from(s.times(counts))))
        .filter(|(_, secs)| *secs > 0.0)
        .collect()
}

/// The steps one after another, one person at work. `expose_secs`, where known, is
/// waited at the step done for every exposure.
pub fn schedule(steps: &[Step], counts: Counts, expose_secs: Option<f64>) -> Vec<Placed> {
    let mut now = 0.0;
    steps
        .iter()
        .map(|s| {
            let times = f64::from(s.times(counts));
            let wait = match (s.per, expose_secs) {
                (Per::Exposure, Some(secs)) => secs,
                _ => s.wait_minutes * 60.0,
            };
            let (hands_secs, wait_secs) = (s.hands_minutes * 60.0 * times, wait * times);
            let start_secs = now;
            now += hands_secs + wait_secs;
            Placed { name: s.name.clone(), start_secs, hands_secs, wait_secs, end_secs: now }
        })
        .collect()
}

/// The timeline section of the plan.
pub(crate) fn section(steps: &[Step], counts: Counts, expose_secs: Option<f64>) -> Section {
    let mut s = Section::new("timeline", "Time");
    let placed = schedule(steps, counts, expose_secs);
    for (step, p) in steps.iter().zip(&placed).filter(|(step, _)| step.times(counts) > 0) {
        let how = format!(
            "{} \u{d7} ({} hands + {} waiting), from {}",
            step.times(counts),
            show_time(p.hands_secs / f64::from(step.times(counts).max(1))),
            show_time(p.wait_secs / f64::from(step.times(counts).max(1))),
            show_time(p.start_secs)
        );
        let all = Quantity::Time(p.hands_secs + p.wait_secs);
        s.add(step.name.clone(), all, how, Source::Practice);
    }
    let hands: f64 = placed.iter().map(|p| p.hands_secs).sum();
    let wait: f64 = placed.iter().map(|p| p.wait_secs).sum();
    s.add("hands-on time", Quantity::Time(hands), "sum of the steps", Source::Arithmetic);
    s.add("waiting", Quantity::Time(wait), "sum of the steps", Source::Arithmetic);
    let how = format!("{} + {}, one after another", show_time(hands), show_time(wait));
    s.add("from start to end", Quantity::Time(hands + wait), how, Source::Arithmetic);
    s.note("Waiting is time for other work: tape the films while the coating dries.");
    s.drawings.push(drawing(&placed));
    s
}

fn drawing(placed: &[Placed]) -> Drawing {
    let placed: Vec<&Placed> = placed.iter().filter(|p| p.hands_secs + p.wait_secs > 0.0).collect();
    const WIDTH: f64 = 180.0;
    const NAMES: f64 = 48.0;
    const ROW: f64 = 5.0;
    let end = placed.last().map_or(1.0, |p| p.end_secs.max(1.0));
    let size = Size::new(Length::mm(WIDTH), Length::mm(ROW * (placed.len() as f64 + 1.0)));
    let mut d = Drawing::new("Hands-on work black, waiting grey", size);
    let x = |secs: f64| NAMES + (WIDTH - NAMES) * secs / end;
    // The finest step that leaves at most twelve marks.
    let step = [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 24.0, 72.0, 240.0]
        .into_iter()
        .find(|h| end / 3600.0 / h <= 12.0)
        .unwrap_or(1000.0);
    let mut hours = 0.0;
    while hours * 3600.0 <= end {
        d.line(
            at_mm(x(hours * 3600.0), 0.0),
            at_mm(x(hours * 3600.0), size.height.to_mm() - ROW),
            Pen::Thin,
        );
        d.label(
            at_mm(x(hours * 3600.0), size.height.to_mm() - ROW / 2.0),
            format!("{} h", number(hours)),
            Anchor::Middle,
        );
        hours += step;
    }
    for (i, p) in placed.iter().enumerate() {
        let top = ROW * i as f64;
        d.label(at_mm(NAMES - 1.0, top + ROW / 2.0), p.name.clone(), Anchor::Right);
        let bar = |from: f64, to: f64| rect_mm(x(from), top + 0.8, x(to) - x(from), ROW - 1.6);
        let turn = p.start_secs + p.hands_secs;
        d.fill(bar(p.start_secs, turn), 1.0);
        d.fill(bar(turn, p.end_secs), 0.3);
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_follow_each_other_without_gaps() {
        let counts = Counts { sheets: 9, exposures: 4, garments: 25, finished: 25 };
        let placed = schedule(&common_steps(), counts, Some(240.0));
        for pair in placed.windows(2) {
            assert_eq!(pair[0].end_secs, pair[1].start_secs);
        }
        let expose = placed.iter().find(|p| p.name == "expose").unwrap();
        assert_eq!((expose.hands_secs, expose.wait_secs), (4.0 * 120.0, 4.0 * 240.0));
        let sum = |garment| -> f64 {
            hands_by_step(&common_steps(), counts, garment).iter().map(|(_, secs)| secs).sum()
        };
        let (garments, rest) = (sum(true), sum(false));
        assert_eq!(garments, 25.0 * (4.0 + 1.5) * 60.0);
        let all: f64 = placed.iter().map(|p| p.hands_secs).sum();
        assert!((garments + rest - all).abs() < 1e-9);
        // Where another screen follows, nothing is cured yet.
        let s = section(&common_steps(), Counts { finished: 0, ..counts }, None);
        assert!(s.figure("print").is_some() && s.figure("cure").is_none());
    }
}
