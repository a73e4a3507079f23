//! Seams with what they put at risk, and what slipped sheets would do.

use super::{fields, group};
use crate::action::Action;
use crate::canvas::{seam_moved, seam_with_node};
use crate::command::Command;
use crate::desk::Desk;
use crate::pins;
use eframe::egui::Ui;
use job::build::Layout;
use job::{Edit, HandSeam};
use measure::{Angle, Length, Point, Unit};
use sheets::{SeamSettings, Seams, Slip};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let (Some(seams), Some(layout)) = (desk.stages.seams().cloned(), desk.stages.layout().cloned())
    else {
        return;
    };
    if seams.seams().is_empty() {
        return;
    }
    group(ui, "Seams");
    fields::says(ui, "Where sheets are cut and joined. Choose one to bend it by its nodes.");
    let name = |i: usize| layout.plan.sheets.get(i).map_or("", |s| s.name.as_str());
    for (i, seam) in seams.seams().iter().enumerate() {
        // Stubs at the sheets' corners cross nothing and need no thought.
        let long = seam
            .points
            .windows(2)
            .any(|w| (w[0].x - w[1].x).abs().max((w[0].y - w[1].y).abs()) > Length::mm(25.0));
        if !long && seam.risk.crossings == 0 {
            continue;
        }
        let (count, jog) = (seam.risk.crossings, seam.risk.jog.show(Unit::Mm));
        let words = format!(
            "{}–{}: crosses {count} {}, jog {jog}",
            name(seam.between[0]),
            name(seam.between[1]),
            if count == 1 { "edge" } else { "edges" }
        );
        let tip = "Ink edges crossed, and the jogs that half a millimetre of slip would make in them, added up";
        if ui.selectable_label(desk.canvas.seam == Some(i), words).on_hover_text(tip).clicked() {
            desk.ask(Action::ChooseSeam(Some(i)));
        }
    }
    bends(desk, ui, &seams, &layout);
    settings(desk, ui);
    slips(desk, ui);
}

/// The chosen seam's bends, to be typed: the film's left and top edges are where they count from.
fn bends(desk: &mut Desk, ui: &mut Ui, seams: &Seams, layout: &Layout) {
    let Some(index) = desk.canvas.seam.filter(|_| desk.stages.planned_screen().is_none()) else {
        return;
    };
    let Some(seam) = seams.seams().get(index) else { return };
    let [Some(a), Some(b)] = seam.between.map(|i| layout.plan.sheets.get(i)) else { return };
    let by_hand = |points| HandSeam {
        between: [a.name.clone(), b.name.clone()],
        strip: seams.strip(index),
        points,
    };
    let (points, unit) = (&seam.points, desk.job().unit);
    for (node, at) in points.iter().enumerate().take(points.len().saturating_sub(1)).skip(1) {
        let field = |ui: &mut Ui, edge: &str, value| {
            let why = format!("From the film's {edge} edge to this bend of the seam");
            fields::length(ui, &format!("Bend {node} from the {edge}"), value, unit, &why)
        };
        let (x, y) = (field(ui, "left", at.x), field(ui, "top", at.y));
        if x.is_some() || y.is_some() {
            let by = Point::new(x.unwrap_or(at.x) - at.x, y.unwrap_or(at.y) - at.y);
            desk.ask(Action::Edit(seam_moved(desk, by_hand(points.clone()), node, by)));
        }
    }
    if ui.button("New bend").on_hover_text("Bend the seam in its longest straight piece").clicked()
    {
        let long = |w: &[Point]| (w[1].x - w[0].x).to_mm().hypot((w[1].y - w[0].y).to_mm());
        let longest = (1..points.len())
            .max_by(|i, j| long(&points[i - 1..=*i]).total_cmp(&long(&points[j - 1..=*j])));
        if let Some(node) = longest {
            let bent = by_hand(seam_with_node(points, node));
            let none = Point::new(Length::ZERO, Length::ZERO);
            desk.ask(Action::Edit(seam_moved(desk, bent, node, none)));
        }
    }
}

fn settings(desk: &mut Desk, ui: &mut Ui) {
    let now = desk.job().seams;
    let why = "The most bends of a seam: each is a turn of the knife. 0 cuts straight";
    if let Some(bends) = fields::number(ui, "Bends", f64::from(now.bends), "", 1.0, why) {
        let bends = bends.clamp(0.0, 12.0) as u32;
        desk.ask(Action::Edit(Edit::Seams(SeamSettings { bends, ..now })));
    }
    if !desk.job().hand_seams.is_empty()
        && ui
            .button("Let every seam go")
            .on_hover_text("Put all seams back where they cost least")
            .clicked()
    {
        desk.ask(Action::Edit(Edit::HandSeams(Vec::new())));
    }
    ui.collapsing("What makes a seam dear", |ui| {
        let mut w = now.weights;
        let mut changed = false;
        for (label, value, why) in [
            (
                "Inch of ink",
                &mut w.ink,
                "A cut through solid ink, where a joint does not show. First guess, no source",
            ),
            (
                "Inch of clear",
                &mut w.clear,
                "A cut through clear film, whose edge may print as a line. First guess, no source",
            ),
            (
                "Along an edge",
                &mut w.near,
                "Added for an inch along an ink edge. First guess, no source",
            ),
            (
                "Edge crossed",
                &mut w.crossing,
                "Each ink edge crossed, where a slip shows as a jog. First guess, no source",
            ),
            ("Bend", &mut w.bend, "Each turn of the knife. First guess, no source"),
        ] {
            if let Some(v) = fields::number(ui, label, *value, "", 0.5, why) {
                *value = v.max(0.0);
                changed = true;
            }
        }
        if changed {
            desk.ask(Action::Edit(Edit::Seams(SeamSettings { weights: w, ..now })));
        }
    });
}

fn slips(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "If sheets slip");
    let count = desk.stages.layout().map_or(0, |l| l.plan.sheets.len());
    let mut slips = desk.canvas.slips.slips.clone();
    slips.resize(count, Slip::default());
    if let (Some(index), Some(sheet)) = (desk.canvas.sheet, pins::chosen(desk).cloned()) {
        let slip = &mut slips[index];
        let mut changed = false;
        fields::says(
            ui,
            format!("Lay {} off its place and see which lines would show:", sheet.name),
        );
        for (label, value) in [("Slipped right", &mut slip.right), ("Slipped down", &mut slip.down)]
        {
            if let Some(v) = fields::number(
                ui,
                label,
                (value.to_mm() * 100.0).round() / 100.0,
                "mm",
                0.1,
                "Arrow keys count tenths of a millimetre",
            ) {
                *value = Length::mm(v.clamp(-50.0, 50.0));
                changed = true;
            }
        }
        if let Some(v) = fields::number(
            ui,
            "Turned",
            (slip.turn.to_deg() * 1000.0).round() / 1000.0,
            "°",
            0.05,
            "About its middle, clockwise",
        ) {
            slip.turn = Angle::deg(v.clamp(-20.0, 20.0));
            changed = true;
        }
        if changed {
            desk.ask(Action::Slips(slips.clone()));
        }
    } else {
        fields::says(ui, "Choose a sheet to lay it off its place, or let chance do it:");
    }
    let size = desk.canvas.slips.size;
    if let Some(v) = fields::number(
        ui,
        "Slip of",
        size.to_mm(),
        "mm",
        0.1,
        "How far a sheet may be off, each way",
    ) {
        desk.canvas.slips.size = Length::mm(v.clamp(0.0, 20.0));
    }
    ui.horizontal_wrapped(|ui| {
        let tip = "Tries 200 random slips of that size and shows the one that harms most";
        if ui.button("Worst of 200").on_hover_text(tip).clicked() {
            let size = desk.canvas.slips.size;
            desk.ask(Action::WorstSlip(size));
        }
        if desk.canvas.slips.seeking_worst && ui.button("Stop").clicked() {
            desk.ask(Action::Do(Command::Stop));
        }
        if desk.canvas.slips.shown && ui.button("Back in place").clicked() {
            desk.ask(Action::Slips(Vec::new()));
        }
    });
    if desk.canvas.slips.shown {
        let words = if desk.job().tone.is_cut() {
            "On the canvas: what would come out. What differs from the right film is marked, and so is film over film."
        } else {
            "On the canvas: what would come out, each sheet's dots where it puts them. Film over film is marked; zoom in on a seam to see its moire."
        };
        fields::says(ui, words);
    }
}
