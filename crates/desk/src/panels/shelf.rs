//! What stands on the shop's shelf: mesh, frames, boards, and the steps of its work.

use super::fields;
use crate::action::Action;
use crate::desk::Desk;
use eframe::egui::{CollapsingHeader, Ui};
use measure::{Length, Size, Unit};
use shop::{Board, DRESSED, Mesh, Per, ShelfFrame, ShopSettings, Step, nominal};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let unit = desk.job().unit;
    let mut shop = desk.shop.clone();
    let settings = &mut shop.settings;
    let mut part = |title: &str, edit: &mut dyn FnMut(&mut Ui, &mut ShopSettings)| {
        CollapsingHeader::new(title).id_salt(("shelf", title)).show(ui, |ui| edit(ui, settings));
    };
    part("The mesh in the frame", &mut |ui, s| mesh(ui, s));
    part("Frames on the shelf", &mut |ui, s| frames(ui, s, unit));
    part("Boards at hand", &mut |ui, s| boards(ui, s, unit));
    part("Steps of the work", &mut |ui, s| steps(ui, s));
    if let Some(currency) = fields::words(ui, "Currency", &settings.currency, "What prices are in")
    {
        settings.currency = currency.trim().chars().take(12).collect();
    }
    if shop != desk.shop {
        desk.ask(Action::Shop(Box::new(shop)));
    }
}

fn mesh(ui: &mut Ui, s: &mut ShopSettings) {
    let names: Vec<String> = s.meshes.iter().map(Mesh::name).collect();
    let mut options: Vec<(Option<usize>, &str, &str)> =
        names.iter().enumerate().map(|(i, name)| (Some(i), name.as_str(), "")).collect();
    options.push((None, "another", "Type its numbers below"));
    let now = s.meshes.iter().position(|m| *m == s.mesh);
    let why = "The meshes that the shop keeps; typical threads, common practice, no source";
    if let Some(Some(i)) = fields::choice(ui, "Mesh", now, &options, why) {
        s.mesh = s.meshes[i];
    }
    let why = "Threads in one centimetre; mesh is woven metric, counts per inch are rounded";
    if let Some(n) = fields::number(ui, "Threads per cm", s.mesh.per_cm, "", 1.0, why) {
        s.mesh.per_cm = n;
    }
    let um = |l: Length| l.to_mm() * 1000.0;
    let why = "How thick one thread is, as the supplier says";
    if let Some(n) = fields::number(ui, "Thread", um(s.mesh.thread), "μm", 1.0, why) {
        s.mesh.thread = Length::mm(n / 1000.0);
    }
    let thickness = s.mesh.thickness.map_or(0.0, um);
    let why = "How thick the woven mesh is, as the supplier says; 0 where it is not known";
    if let Some(n) = fields::number(ui, "Woven thickness", thickness, "μm", 1.0, why) {
        s.mesh.thickness = (n > 0.0).then(|| Length::mm(n / 1000.0));
    }
    if now.is_none() && ui.button("Keep this mesh on the shelf").clicked() {
        s.meshes.push(s.mesh);
    }
}

fn frames(ui: &mut Ui, s: &mut ShopSettings, unit: Unit) {
    let names: Vec<String> = s.frames.iter().map(|f| f.name.clone()).collect();
    let mut options: Vec<(Option<usize>, &str, &str)> =
        vec![(None, "a new one", "Plans wood and cuts for the film")];
    options.extend(names.iter().enumerate().map(|(i, name)| (Some(i), name.as_str(), "")));
    let now = s.use_frame.as_ref().and_then(|name| names.iter().position(|n| n == name));
    if let Some(i) = fields::choice(ui, "Frame to use", now, &options, "A new one, or one at hand")
    {
        s.use_frame = i.map(|i| names[i].clone());
    }
    let mut gone = None;
    for (i, frame) in s.frames.iter_mut().enumerate() {
        ui.push_id(("frame", i), |ui| {
            let n = i + 1;
            let why = "What the shop calls it";
            if let Some(name) = fields::words(ui, &format!("Frame {n}"), &frame.name, why) {
                if s.use_frame.as_ref() == Some(&frame.name) {
                    s.use_frame = Some(name.clone());
                }
                frame.name = name;
            }
            let why = "The clear inside, across the stroke";
            let label = format!("Frame {n} across");
            if let Some(l) = fields::length(ui, &label, frame.inside.width, unit, why) {
                frame.inside.width = l;
            }
            let why = "The clear inside, along the stroke";
            let label = format!("Frame {n} along");
            if let Some(l) = fields::length(ui, &label, frame.inside.height, unit, why) {
                frame.inside.height = l;
            }
            if ui.button(format!("Take frame {n} off the shelf")).clicked() {
                gone = Some(i);
            }
        });
    }
    if let Some(i) = gone {
        s.frames.remove(i);
    }
    if ui.button("Add a frame").clicked() {
        let name = format!("frame {}", s.frames.len() + 1);
        s.frames.push(ShelfFrame { name, inside: Size::new(Length::cm(80.0), Length::cm(100.0)) });
    }
}

fn boards(ui: &mut Ui, s: &mut ShopSettings, unit: Unit) {
    let names = DRESSED.map(|(inches, _)| inches.to_string());
    let mut sizes: Vec<(Option<u32>, &str, &str)> =
        DRESSED.iter().zip(&names).map(|(d, name)| (Some(d.0), name.as_str(), "")).collect();
    sizes.push((None, "as typed", "The wood's own size, under the frame's own numbers"));
    let why = "As wood is sold, in inches; it measures less, dressed and dry (PS 20)";
    let frame = &mut s.frame;
    for (label, side) in
        [("Sold thickness", &mut frame.wood_thickness), ("Sold width", &mut frame.wood_width)]
    {
        let chosen = fields::choice(ui, label, nominal(*side), &sizes, why).flatten();
        if let Some(size) = DRESSED.iter().find(|d| Some(d.0) == chosen) {
            *side = size.1;
        }
    }
    let mut gone = None;
    for (i, board) in s.boards.iter_mut().enumerate() {
        ui.push_id(("board", i), |ui| {
            let n = i + 1;
            let label = format!("Board {n}");
            if let Some(l) = fields::length(ui, &label, board.length, unit, "How long it is") {
                board.length = l;
            }
            let mut buy = board.at_hand.is_none();
            let words = format!("Buy as many of board {n} as needed");
            if ui.checkbox(&mut buy, words).changed() {
                board.at_hand = (!buy).then_some(1);
            }
            if let Some(count) = board.at_hand {
                let label = format!("Board {n} at hand");
                let why = "How many there are";
                if let Some(c) = fields::number(ui, &label, f64::from(count), "", 1.0, why) {
                    board.at_hand = Some(c.clamp(0.0, 10_000.0) as u32);
                }
            }
            let label = format!("Board {n} costs");
            let why = "The price of one; 0 if it is there already";
            if let Some(price) = fields::number(ui, &label, board.price, "", 1.0, why) {
                board.price = price.clamp(0.0, 1e6);
            }
            if ui.button(format!("Remove board {n}")).clicked() {
                gone = Some(i);
            }
        });
    }
    if let Some(i) = gone {
        s.boards.remove(i);
    }
    if ui.button("Add a board").clicked() {
        s.boards.push(Board { length: Length::inches(96.0), at_hand: Some(1), price: 0.0 });
    }
}

fn steps(ui: &mut Ui, s: &mut ShopSettings) {
    fields::says(ui, "Common practice, no source: time your own.");
    let mut gone = None;
    for (i, step) in s.steps.iter_mut().enumerate() {
        ui.push_id(("step", i), |ui| {
            let n = i + 1;
            if let Some(name) = fields::words(ui, &format!("Step {n}"), &step.name, "What is done")
            {
                step.name = name;
            }
            let why = "Minutes of work with one's hands";
            let label = format!("Step {n} hands-on");
            if let Some(min) = fields::number(ui, &label, step.hands_minutes, "min", 1.0, why) {
                step.hands_minutes = min.clamp(0.0, 10_000.0);
            }
            let why = "Minutes of waiting after it: drying, printing; exposing by the plan";
            let label = format!("Step {n} waiting");
            if let Some(min) = fields::number(ui, &label, step.wait_minutes, "min", 1.0, why) {
                step.wait_minutes = min.clamp(0.0, 100_000.0);
            }
            let whats = [
                (Per::Screen, "the screen", ""),
                (Per::Sheet, "every sheet", ""),
                (Per::Exposure, "every exposure", ""),
                (Per::Garment, "every garment", ""),
                (Per::Finished, "every finished one", "Once all screens have printed on it"),
            ];
            let label = format!("Step {n} once for");
            if let Some(per) = fields::choice(ui, &label, step.per, &whats, "What it is done for") {
                step.per = per;
            }
            if ui.button(format!("Remove step {n}")).clicked() {
                gone = Some(i);
            }
            ui.add_space(6.0);
        });
    }
    if let Some(i) = gone {
        s.steps.remove(i);
    }
    if ui.button("Add a step").clicked() {
        let name = "another step".into();
        let (hands_minutes, wait_minutes) = (10.0, 0.0);
        s.steps.push(Step { name, hands_minutes, wait_minutes, per: Per::Screen });
    }
}
