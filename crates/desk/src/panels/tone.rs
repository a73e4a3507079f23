//! How grey becomes ink or none, and what the mesh makes of it.

use super::{fields, group};
use crate::action::Action;
use crate::desk::Desk;
use ::tone::Dot;
use eframe::egui::Ui;
use job::{Edit, Gain, Printing, Tone};
use measure::{Angle, Length, Ruling};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Cut,
    Dots,
    Noise,
    Diffuse,
}

const KINDS: [(Kind, &str, &str); 4] = [
    (Kind::Cut, "ink or none", "Crisp edges at the cut level, for line art"),
    (Kind::Dots, "dots", "Rows of dots whose size follows the tone"),
    (Kind::Noise, "even grain", "Grains of one size scattered evenly: no rows, so no moire"),
    (Kind::Diffuse, "spread grain", "Error diffusion: the finest detail a grain can show"),
];

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    group(ui, "Tone");
    let (kind, grain) = match &job.tone {
        Tone::Cut => (Kind::Cut, Tone::GRAIN),
        Tone::Dots { .. } => (Kind::Dots, Tone::GRAIN),
        Tone::Noise { grain } => (Kind::Noise, *grain),
        Tone::Diffuse { grain } => (Kind::Diffuse, *grain),
    };
    let why = "What becomes of the greys between paper and ink";
    if let Some(kind) = fields::choice(ui, "Grey becomes", kind, &KINDS, why) {
        desk.ask(Action::Edit(Edit::Tone(match kind {
            Kind::Cut => Tone::Cut,
            Kind::Dots => Tone::DOTS,
            Kind::Noise => Tone::Noise { grain },
            Kind::Diffuse => Tone::Diffuse { grain },
        })));
    }
    match &job.tone {
        Tone::Cut => return,
        Tone::Dots { dot, ruling, angle } => dots(desk, ui, dot, *ruling, *angle),
        Tone::Noise { grain } | Tone::Diffuse { grain } => {
            let why = "How large one grain is; it must hold on the mesh. Rounded to film pixels";
            if let Some(grain) = fields::length(ui, "Grain", *grain, job.unit, why) {
                desk.ask(Action::Edit(Edit::Tone(match kind {
                    Kind::Noise => Tone::Noise { grain },
                    _ => Tone::Diffuse { grain },
                })));
            }
        }
    }
    printing(desk, ui, &job.printing);
}

fn dots(desk: &mut Desk, ui: &mut Ui, dot: &Dot, ruling: Ruling, angle: Angle) {
    let ask = |desk: &mut Desk, dot: Dot, ruling, angle| {
        desk.ask(Action::Edit(Edit::Tone(Tone::Dots { dot, ruling, angle })));
    };
    let why = "Rows of dots to the inch. A quarter to a fifth of the mesh count is usual";
    if let Some(lpi) = fields::number(ui, "Ruling", ruling.to_lpi(), "lpi", 1.0, why) {
        ask(desk, dot.clone(), Ruling::lpi(lpi), angle);
    }
    let why = "How far the rows are turned. 0, 45 and 90 degrees lie worst to the threads";
    if let Some(deg) = fields::number(ui, "Angle", angle.to_deg(), "deg", 2.5, why) {
        ask(desk, dot.clone(), ruling, Angle::deg(deg));
    }
    if !matches!(dot, Dot::Own { .. }) {
        let kind = |d: &Dot| match d {
            Dot::Elliptical => 1,
            Dot::Line => 2,
            _ => 0,
        };
        let shapes = [
            (0, "round", "Dots meet on all sides at half tone"),
            (1, "long", "Dots meet in two steps, so that tone does not jump"),
            (2, "lines", "Lines that swell"),
        ];
        if let Some(shape) = fields::choice(ui, "Dot", kind(dot), &shapes, "The dots' shape") {
            let dot = [Dot::Round, Dot::Elliptical, Dot::Line][shape].clone();
            ask(desk, dot, ruling, angle);
        }
    }
    let (resolution, unit) = (desk.job().resolution, desk.job().unit);
    let mesh = desk.shop.settings.mesh;
    let steps = ::tone::levels(resolution, ruling);
    fields::figure(ui, "Tones", format!("{steps}"), "(resolution ÷ ruling)² + 1");
    let beat = match ::tone::moire(mesh.pitch(), ruling, angle) {
        None => "none that shows".to_owned(),
        Some(m) => format!("bands every {} (order {})", m.period.show(unit), m.order),
    };
    let why = "Where rows of dots and the screen step's threads beat against each other. Long bands of low order show most; print a test first";
    fields::figure(ui, "Moire", format!("{beat}, on the {:.0} mesh", mesh.per_inch()), why);
    let proposed = ::tone::propose(mesh.pitch(), resolution);
    ui.horizontal_wrapped(|ui| {
        for p in proposed.iter().take(3) {
            let chosen = p.ruling == ruling && p.angle == angle;
            let words = format!("{} lpi at {}°", p.ruling.to_lpi(), p.angle.to_deg());
            let tip = "Proposed for this mesh: its bands show least";
            if ui.selectable_label(chosen, words).on_hover_text(tip).clicked() && !chosen {
                ask(desk, dot.clone(), p.ruling, p.angle);
            }
        }
    });
}

fn printing(desk: &mut Desk, ui: &mut Ui, now: &Printing) {
    let unit = desk.job().unit;
    let mut new = now.clone();
    let tip = "Line art keeps its edges; dots come only where the picture is tone";
    ui.checkbox(&mut new.mixed, "Keep hard edges").on_hover_text(tip);
    if desk.job().tone.dots().is_some() {
        let why = "The smallest dot, and the smallest hole, that the screen holds. One thread pitch is the floor, three are safe (common practice, no source); 0 holds all";
        if let Some(dot) = fields::length(ui, "Smallest dot", now.smallest_dot, unit, why) {
            new.smallest_dot = dot;
        }
        let hold = now.hold(&desk.job().tone);
        if now.smallest_dot > Length::ZERO {
            let text = format!("{:.0} to {:.0} %", hold.smallest * 100.0, hold.largest * 100.0);
            fields::figure(
                ui,
                "Tones that hold",
                text,
                "π/4 × (dot × ruling)², and what it leaves",
            );
        }
    }
    let mut measured = now.gain.is_some();
    let tip =
        "Lets the film allow for dots that grow in print, by a wedge you printed and measured";
    if ui.checkbox(&mut measured, "Allow for dot gain").on_hover_text(tip).changed() {
        new.gain = measured.then(|| Gain { steps: Vec::new(), solid: 1.2, n: 1.0 });
    }
    if let Some(gain) = &mut new.gain {
        let why = "The density of solid ink above the bare garment";
        if let Some(solid) = fields::number(ui, "Solid density", gain.solid, "", 0.05, why) {
            gain.solid = solid;
        }
        let why = "Yule and Nielsen's factor: 1 (Murray and Davies) to about 2 where light spreads in the cloth";
        if let Some(n) = fields::number(ui, "Factor n", gain.n, "", 0.1, why) {
            gain.n = n;
        }
        let why = "Share on film and density in print of each step you measured, such as 25: 0.21, 50: 0.41";
        if let Some(steps) = fields::readings(ui, "Wedge steps", &gain.steps, why) {
            gain.steps = steps;
        }
    }
    if new != *now {
        desk.ask(Action::Edit(Edit::Printing(new)));
    }
}
