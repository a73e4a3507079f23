use super::{command_button, fields, group, sizes};
use crate::action::Action;
use crate::canvas::plain_turn;
use crate::command::Command;
use crate::desk::Desk;
use eframe::egui::Ui;
use garment::{Face, Garment, Shape};
use job::Edit;
use measure::{Angle, Length, Point};

const SIZES: [&str; 6] = ["s", "m", "l", "xl", "2xl", "3xl"];

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    let now = job.garment.as_ref().map(|g| g.shape);
    let mut shapes = vec![(None, "none", "Film is made for all ink, wherever it lies")];
    shapes.extend(Shape::ALL.map(|s| (Some(s), shape_name(s), "")));
    let why = "Only ink that lands on the garment and its bleed needs film";
    if let Some(shape) = fields::choice(ui, "Printed on", now, &shapes, why) {
        let size = job.garment.as_ref().and_then(|g| size_of(g)).unwrap_or("l");
        let named = shape.and_then(|s| named(s, size));
        if !job.also.is_empty() {
            desk.ask(Action::Edit(Edit::Also(Vec::new())));
        }
        desk.ask(Action::Edit(Edit::Garment(named)));
    }
    if let Some(g) = &job.garment {
        measurements(desk, ui, g);
    }
    place(desk, ui);
    if let Some(g) = job.garment.as_ref().filter(|g| g.shape.sized()) {
        sizes::show(desk, ui, g, &SIZES);
    }
}

fn measurements(desk: &mut Desk, ui: &mut Ui, g: &Garment) {
    let unit = desk.job().unit;
    if g.shape.sized() {
        ui.horizontal_wrapped(|ui| {
            for size in SIZES {
                let chosen = size_of(g) == Some(size);
                let tip =
                    "Typical measurements of this size; overwrite them with your own garment's";
                if ui.selectable_label(chosen, size.to_uppercase()).on_hover_text(tip).clicked()
                    && let Some(mut new) = named(g.shape, size)
                {
                    new.face = g.face;
                    let mut also = desk.job().also.clone();
                    also.retain(|a| a.name != new.name);
                    desk.ask(Action::Edit(Edit::Also(also)));
                    desk.ask(Action::Edit(Edit::Garment(Some(new))));
                }
            }
        });
    }
    if matches!(g.shape, Shape::Tee | Shape::LongSleeve | Shape::Hooded | Shape::Tank) {
        let faces = [
            (Face::Front, "front", "The deeper neckline"),
            (Face::Back, "back", "The higher neckline"),
        ];
        if let Some(face) =
            fields::choice(ui, "Side up", g.face, &faces, "Which face of the garment is printed")
        {
            desk.ask(Action::Edit(Edit::Garment(Some(Garment { face, ..g.clone() }))));
        }
    }
    group(ui, "Measured flat");
    fields::says(
        ui,
        "Typical numbers to begin with. Lay your own garment flat and type what the tape says.",
    );
    for (m, length) in g.measurements() {
        if let Some(new) =
            fields::taped(ui, &capital(m.name()), length, unit, &capital(m.explanation()))
        {
            let mut edited = g.clone();
            edited.set(m, new);
            match edited.check() {
                Ok(()) => desk.ask(Action::Edit(Edit::Garment(Some(edited)))),
                Err(e) => desk.notices.say(e.to_string(), e.hint()),
            }
        }
    }
    if g.shape.sleeved() {
        let why = "How far below the horizontal the sleeves lie, in degrees";
        if let Some(deg) =
            fields::number(ui, "Sleeve angle", g.sleeve_angle.to_deg(), "°", 1.0, why)
        {
            let edited = Garment { sleeve_angle: Angle::deg(deg), ..g.clone() };
            match edited.check() {
                Ok(()) => desk.ask(Action::Edit(Edit::Garment(Some(edited)))),
                Err(e) => desk.notices.say(e.to_string(), e.hint()),
            }
        }
    }
}

/// Where the artwork lies: all that dragging it does, typed.
fn place(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    let unit = job.unit;
    group(ui, "Artwork on it");
    if let Some(width) = fields::length(
        ui,
        "Artwork width",
        job.width,
        unit,
        "Width of the cropped artwork on the garment, before its turn",
    ) {
        desk.ask(Action::Edit(Edit::Width(width)));
    }
    let right = fields::length(
        ui,
        "Right of centre",
        job.offset.x,
        unit,
        "From the garment's middle to the artwork's; less than 0 is left",
    );
    let below = fields::length(
        ui,
        "Below centre",
        job.offset.y,
        unit,
        "From the garment's middle to the artwork's; less than 0 is above",
    );
    if right.is_some() || below.is_some() {
        let offset = Point::new(right.unwrap_or(job.offset.x), below.unwrap_or(job.offset.y));
        desk.ask(Action::Edit(Edit::Offset(offset)));
    }
    let why =
        "How far the artwork is turned clockwise about its middle; less than 0 is anticlockwise";
    if let Some(degrees) = fields::number(ui, "Turn", job.turn.to_deg(), "°", 1.0, why) {
        desk.ask(Action::Edit(Edit::Turn(plain_turn(degrees))));
    }
    if job.garment.is_some() {
        let why = "How far the print runs off the garment's edge, so that a crooked hem shows no bare cloth. Common practice, no source";
        if let Some(bleed) = fields::length(ui, "Bleed", job.bleed, unit, why) {
            desk.ask(Action::Edit(Edit::Bleed(bleed.max(Length::ZERO))));
        }
    }
    ui.horizontal_wrapped(|ui| {
        command_button(desk, ui, Command::CentreArtwork);
        command_button(desk, ui, Command::FitToGarment);
        command_button(desk, ui, Command::QuarterTurn);
        if job.turn != Angle::ZERO {
            command_button(desk, ui, Command::Upright);
        }
    });
}

fn named(shape: Shape, size: &str) -> Option<Garment> {
    let name = if shape.sized() { format!("{}-{size}", shape.name()) } else { shape.name().into() };
    Garment::named(&name)
}

fn size_of(g: &Garment) -> Option<&'static str> {
    let size = g.name.strip_prefix(g.shape.name())?.strip_prefix('-')?;
    SIZES.into_iter().find(|s| *s == size)
}

const fn shape_name(shape: Shape) -> &'static str {
    match shape {
        Shape::Tee => "tee",
        Shape::LongSleeve => "long sleeve",
        Shape::Hooded => "hooded",
        Shape::Tank => "tank",
        Shape::Trousers => "trousers leg",
        Shape::Tote => "tote",
        Shape::Scarf => "square scarf",
        Shape::Panel => "free panel",
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
