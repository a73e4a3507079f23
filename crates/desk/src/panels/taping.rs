//! How the printed sheets are taped into one film: the film from both sides, the joins in
//! order, and what is done at each. The words are those of `guide.pdf`.

use super::fields;
use crate::action::Action;
use crate::desk::Desk;
use crate::dialog::Dialog;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align2, Color32, Context, FontId, Frame, Id, Margin, Modal, Painter, Pos2, Rect, RichText,
    Role, ScrollArea, Sense, Shape, Stroke, StrokeKind, TextureId, Ui, Vec2, WidgetInfo, pos2,
    vec2,
};
use film::{KNIFE, PRINTED_SIDE, SEAM_STEPS, TAPING_SIDE, checks_text, join_text};
use job::build::Layout;
use measure::{Point, Size};
use sheets::{Assembly, Join, Seams};

pub(crate) fn show(desk: &mut Desk, ui: &Ui, at: usize) {
    let (Some(seams), Some(layout), Some(size)) =
        (desk.stages.seams().cloned(), desk.stages.layout().cloned(), desk.film_size())
    else {
        desk.ask(Action::CloseDialog);
        return;
    };
    let rects: Vec<_> = layout.plan.sheets.iter().map(|s| s.placed.rect).collect();
    let assembly = Assembly::of(&rects, seams.seams());
    let texture = desk.film_texture(ui.ctx());
    let p = Palette::of(ui.ctx());
    let frame =
        Frame::window(&ui.ctx().global_style()).inner_margin(Margin::same(18)).fill(p.paper);
    let room = ui.ctx().content_rect().size() - vec2(90.0, 90.0);
    let closed = Modal::new(Id::unique("taping")).frame(frame).show(ui.ctx(), |ui| {
        ui.set_width(room.x.min(1180.0));
        ui.label(RichText::new("Taping the sheets into one film").font(strong(19.0)));
        ui.horizontal_top(|ui| {
            let wide = ui.available_width() * 0.56;
            let sides = Sides {
                layout: &layout,
                seams: &seams,
                join: assembly.joins.get(at),
                size,
                texture,
                room: vec2(wide, (room.y - 150.0) / 2.0),
            };
            ui.vertical(|ui| {
                ui.set_width(wide);
                sides.show(ui, TAPING_SIDE, true);
                sides.show(ui, PRINTED_SIDE, false);
            });
            ui.vertical(|ui| {
                ScrollArea::vertical()
                    .max_height(room.y - 100.0)
                    .auto_shrink([false, true])
                    .show(ui, |ui| words(desk, ui, &assembly, &layout, &seams, at));
            });
        });
        ui.add_space(6.0);
        if ui.button("Close the guide").clicked() {
            desk.ask(Action::CloseDialog);
        }
    });
    if closed.should_close() {
        desk.ask(Action::CloseDialog);
    }
}

fn words(
    desk: &mut Desk,
    ui: &mut Ui,
    assembly: &Assembly,
    layout: &Layout,
    seams: &Seams,
    at: usize,
) {
    let names: Vec<&str> = layout.plan.sheets.iter().map(|s| s.name.as_str()).collect();
    let cuts: Vec<Vec<Point>> = seams.seams().iter().map(|s| s.points.clone()).collect();
    if assembly.joins.is_empty() {
        fields::says(ui, "There is nothing to join.");
        return;
    }
    ui.label(RichText::new("In this order").font(strong(15.0)));
    for n in 0..assembly.joins.len() {
        let text = join_text(n, assembly, &names, &cuts);
        if ui.selectable_label(n == at, text.title).clicked() {
            desk.ask(Action::Show(Dialog::Taping(n)));
        }
        if n == at {
            fields::says(ui, text.layers);
            if let Some(measure) = text.measure {
                fields::says(ui, measure);
            }
        }
    }
    ui.horizontal(|ui| {
        let last = assembly.joins.len() - 1;
        let step = |ui: &mut Ui, words, can, to| {
            let button = eframe::egui::Button::new(words);
            ui.add_enabled(can, button).clicked().then_some(Action::Show(Dialog::Taping(to)))
        };
        let asked = [
            step(ui, "Previous join", at > 0, at.saturating_sub(1)),
            step(ui, "Next join", at < last, at + 1),
        ];
        asked.into_iter().flatten().for_each(|action| desk.ask(action));
    });
    ui.add_space(8.0);
    ui.label(RichText::new("At every seam").font(strong(15.0)));
    for (n, step) in SEAM_STEPS.iter().enumerate() {
        fields::says(ui, format!("{}.  {step}", n + 1));
    }
    ui.label(RichText::new(KNIFE).strong());
    if let Some(text) = checks_text(&assembly.checks) {
        ui.add_space(8.0);
        ui.label(RichText::new("When all is taped").font(strong(15.0)));
        fields::says(ui, text);
    }
}

/// The film from its two sides.
struct Sides<'a> {
    layout: &'a Layout,
    seams: &'a Seams,
    join: Option<&'a Join>,
    size: Size,
    texture: Option<TextureId>,
    room: Vec2,
}

impl Sides<'_> {
    fn show(&self, ui: &mut Ui, title: &str, mirrored: bool) {
        let p = Palette::of(ui.ctx());
        ui.label(RichText::new(title).font(strong(14.0)));
        let (width, height) = (self.size.width.to_mm() as f32, self.size.height.to_mm() as f32);
        let scale = (self.room.x / width).min(self.room.y / height);
        let (rect, response) =
            ui.allocate_exact_size(vec2(width * scale, height * scale), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, format!("Film: {title}")));
        let painter = ui.painter_at(rect.expand(2.0));
        painter.rect_filled(rect, 0, p.cloth);
        if let Some(texture) = self.texture {
            let (left, right) = if mirrored { (1.0, 0.0) } else { (0.0, 1.0) };
            let uv = Rect { min: pos2(left, 0.0), max: pos2(right, 1.0) };
            painter.image(texture, rect, uv, p.ink.gamma_multiply(0.55));
        }
        let place = |at: Point| {
            let x = at.x.to_mm() as f32 * scale;
            let x = if mirrored { rect.right() - x } else { rect.left() + x };
            pos2(x, rect.top() + at.y.to_mm() as f32 * scale)
        };
        self.sheets(&painter, &place, p);
        for (n, seam) in self.seams.seams().iter().enumerate() {
            let line: Vec<Pos2> = seam.points.iter().map(|at| place(*at)).collect();
            if self.join.is_some_and(|join| join.seams.contains(&n)) {
                painter.add(Shape::line(line.clone(), Stroke::new(5.0, p.paper)));
                painter.add(Shape::line(line, Stroke::new(3.0, p.wrong)));
            } else {
                painter.extend(Shape::dashed_line(&line, Stroke::new(1.0, p.text), 4.0, 3.0));
            }
        }
    }

    /// Sheets: tinted where they stay, hatched where they are laid on top.
    fn sheets(&self, painter: &Painter, place: &dyn Fn(Point) -> Pos2, p: &Palette) {
        for (n, sheet) in self.layout.plan.sheets.iter().enumerate() {
            let r = sheet.placed.rect;
            let rect =
                Rect::from_two_pos(place(r.origin), place(Point::new(r.right(), r.bottom())));
            let has = |of: &[usize]| of.contains(&n);
            let (below, above) =
                self.join.map_or((false, false), |join| (has(&join.below), has(&join.above)));
            if below {
                painter.rect_filled(rect, 0, p.accent.gamma_multiply(0.22));
            } else if above {
                crate::canvas::hatch(painter, rect, Stroke::new(1.0, p.sheet));
            }
            let line = if below || above { 2.0 } else { 1.0 };
            painter.rect_stroke(rect, 0, Stroke::new(line, p.sheet), StrokeKind::Inside);
            let font = FontId::proportional((rect.size().min_elem() * 0.3).clamp(11.0, 26.0));
            let galley = painter.layout_no_wrap(sheet.name.clone(), font, p.text);
            let name = Align2::CENTER_CENTER.anchor_size(rect.center(), galley.size());
            painter.rect_filled(name.expand(3.0), 2, p.paper);
            painter.galley(name.min, galley, p.text);
        }
    }
}

impl Desk {
    /// The whole film, small, as whites that are tinted when they are drawn.
    fn film_texture(&mut self, ctx: &Context) -> Option<TextureId> {
        let film = self.stages.shown()?.clone();
        let levels = &film.levels;
        let level = levels.coarsest();
        let (width, height) = levels.size(level);
        let kept = self.canvas.small.as_ref().filter(|(number, _)| *number == film.number);
        if let Some((_, texture)) = kept {
            return Some(texture.id());
        }
        let cover = levels.cover(level, 0, 0, width, height);
        let pixels = cover.into_iter().map(Color32::from_white_alpha).collect();
        let image = eframe::egui::ColorImage::new([width, height], pixels);
        let texture = ctx.load_texture("small film", image, eframe::egui::TextureOptions::LINEAR);
        let id = texture.id();
        self.canvas.small = Some((film.number, texture));
        Some(id)
    }
}
