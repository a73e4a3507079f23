use super::{command_button, fields, group};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::pins;
use crate::theme::{Palette, strong};
use eframe::egui::{ComboBox, RichText, Ui};
use job::{Edit, FrameMarks};
use measure::{Length, Point, Size};
use sheets::{Pieces, Stock};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    plan(desk, ui);
    group(ui, "Film in the drawer");
    stocks(desk, ui);
    group(ui, "How they meet");
    let job = desk.job().clone();
    let why = "How far neighbouring sheets lie over each other, to tape and to trim. Common practice is ½ in, no source";
    if let Some(overlap) = fields::length(ui, "Overlap", job.overlap, job.unit, why) {
        desk.ask(Action::Edit(Edit::Overlap(overlap)));
    }
    let mut trim_lines = job.trim_lines;
    let why = "Small dots along the seams, on both sheets, only where the film is clear";
    if ui.checkbox(&mut trim_lines, "Print trim lines").on_hover_text(why).changed() {
        desk.ask(Action::Edit(Edit::TrimLines(trim_lines)));
    }
    frame_marks(desk, ui, &job);
    let pieces = [
        (Pieces::One, "one piece", "All sheets hang together"),
        (Pieces::Many, "separate pieces", "Motifs that lie apart may be films of their own"),
    ];
    if let Some(pieces) = fields::choice(
        ui,
        "The film is",
        job.pieces,
        &pieces,
        "Whether the taped film must hang together",
    ) {
        desk.ask(Action::Edit(Edit::Pieces(pieces)));
    }
    by_hand(desk, ui);
    super::printer::show(desk, ui);
    super::seams::show(desk, ui);
}

/// Marks outside the print, the same on every screen's film.
fn frame_marks(desk: &mut Desk, ui: &mut Ui, job: &job::Job) {
    let now = &job.frame_marks;
    let why = "Where holes are punched for the frame's register pins: right of the artwork's middle and above its top edge, such as -8in, 1in; 8in, 1in. Film is planned for them. Empty prints none";
    if let Some(pins) = fields::pins(ui, "Pin marks", &now.pins, job.unit, why) {
        desk.ask(Action::Edit(Edit::FrameMarks(FrameMarks { pins, ..now.clone() })));
    }
    let why = "Corner marks to tape the film to its frame by, so far outside the artwork's corners. 0 prints none";
    let tape = now.tape.unwrap_or_default();
    if let Some(tape) = fields::length(ui, "Tape marks", tape, job.unit, why) {
        let tape = (tape > Length::ZERO).then_some(tape);
        desk.ask(Action::Edit(Edit::FrameMarks(FrameMarks { tape, ..now.clone() })));
    }
}

fn plan(desk: &mut Desk, ui: &mut Ui) {
    let p = Palette::of(ui.ctx());
    if let Some(error) = desk.stages.layout_error() {
        let (text, hint) = (error.to_string(), error.hint());
        fields::says_wrong(ui, &text);
        fields::says(ui, hint);
        return;
    }
    let Some(layout) = desk.stages.layout().cloned() else { return };
    let count = layout.plan.sheets.len();
    let words = if count == 1 { "sheet" } else { "sheets" };
    ui.label(RichText::new(format!("{count} {words}")).font(strong(26.0)).color(p.accent));
    fields::says(ui, why(&layout.plan));
    if let Some((n, name)) = desk.stages.planned_screen() {
        let text = format!("For screen {} {name}. Choose another under Film, Screens.", n + 1);
        fields::says(ui, text);
    }
    if layout.plan.grid as usize > count {
        fields::says(ui, format!("A plain grid would take {}", layout.plan.grid));
    }
}

/// Why there are so many, without the number that stands before it.
pub(crate) fn why(plan: &sheets::Plan) -> String {
    let plain = plan.why.strip_prefix(&plan.sheets.len().to_string()).unwrap_or(&plan.why);
    let mut chars = plain.trim_start_matches([':', ',', ' ']).chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn stocks(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    let unit = job.unit;
    let mut stocks = job.stocks.clone();
    let mut changed = false;
    if stocks.len() == 1
        && let Some(usual) = by_name(ui, &stocks[0], unit)
    {
        // The printer's own margins hold for whatever lies in it.
        let margins = if usual.roll { usual.margins } else { stocks[0].margins };
        stocks[0] = Stock { margins, ..usual };
        changed = true;
    }
    let mut remove = None;
    let many = stocks.len() > 1;
    for (i, stock) in stocks.iter_mut().enumerate() {
        ui.push_id(i, |ui| {
            if many {
                ui.horizontal(|ui| {
                    ui.label(RichText::new(stock.name.clone()).strong());
                    if ui.button("Take out").on_hover_text("Plan without this film").clicked() {
                        remove = Some(i);
                    }
                });
            }
            changed |= stock_fields(ui, stock, unit, i);
        });
    }
    if let Some(i) = remove {
        stocks.remove(i);
        changed = true;
    }
    if ui
        .button("Add another film")
        .on_hover_text("A second size or a roll: the cheapest plan uses both")
        .clicked()
        && let Some(last) = stocks.last().cloned()
    {
        let name = format!("{} again", last.name);
        stocks.push(Stock { name, ..last });
        changed = true;
    }
    if changed {
        desk.ask(Action::Edit(Edit::Stocks(stocks)));
    }
}

/// Sizes and rolls by name; any other is typed below.
fn by_name(ui: &mut Ui, now: &Stock, unit: measure::Unit) -> Option<Stock> {
    let mut chosen = None;
    let name = if now.roll { Some(now.name.as_str()) } else { Stock::name_of(now.size) };
    fields::row(
        ui,
        "Film",
        "Sheets and rolls that are widely sold, or your own by its measurements",
        |ui, words| {
            let combo = ComboBox::from_id_salt("film by name")
                .selected_text(name.unwrap_or("own size"))
                .width(152.0)
                .height(420.0);
            let options = Stock::all().into_iter().map(|stock| {
                let (width, height) = (stock.size.width.show(unit), stock.size.height.show(unit));
                let says_size = stock.roll || stock.name.contains('x');
                let size = if says_size { String::new() } else { format!(", {width} × {height}") };
                let (is_now, shown) = (name == Some(&*stock.name), stock.name.clone() + &size);
                (stock, is_now, shown, "")
            });
            chosen = fields::list(ui, combo, words, options);
        },
    );
    chosen
}

fn stock_fields(ui: &mut Ui, stock: &mut Stock, unit: measure::Unit, number: usize) -> bool {
    let mut changed = false;
    let label =
        |what: &str| if number == 0 { what.to_owned() } else { format!("{what} {}", number + 1) };
    let width = fields::length(
        ui,
        &label("Sheet width"),
        stock.size.width,
        unit,
        "Short side, as it goes into the printer",
    );
    let height = fields::length(
        ui,
        &label("Sheet height"),
        stock.size.height,
        unit,
        "Long side, as it goes into the printer; of a roll, the longest piece",
    );
    if width.is_some() || height.is_some() {
        stock.size =
            Size::new(width.unwrap_or(stock.size.width), height.unwrap_or(stock.size.height));
        stock.name = format!("{} x {}", stock.size.width.show(unit), stock.size.height.show(unit));
        changed = true;
    }
    let m = stock.margins;
    let all = [m.left, m.top, m.right, m.bottom];
    let why =
        "What your printer leaves white at each edge: print a full page of black and measure it";
    if all.iter().all(|v| *v == m.left)
        && let Some(v) = fields::length(ui, &label("Margin"), m.left, unit, why)
    {
        stock.margins = sheets::Margins { left: v, top: v, right: v, bottom: v };
        changed = true;
    }
    ui.collapsing(label("Each margin, number and price"), |ui| {
        for (name, side) in [
            ("Left margin", &mut stock.margins.left),
            ("Top margin", &mut stock.margins.top),
            ("Right margin", &mut stock.margins.right),
            ("Bottom margin", &mut stock.margins.bottom),
        ] {
            if let Some(v) = fields::length(ui, &label(name), *side, unit, why) {
                *side = v;
                changed = true;
            }
        }
        let on_hand = stock.on_hand.map_or(-1.0, f64::from);
        let why = "Sheets in the drawer; −1 for plenty";
        if let Some(n) = fields::number(ui, &label("On hand"), on_hand, "", 1.0, why) {
            stock.on_hand = (n >= 0.0).then_some(n.min(1e6) as u32);
            changed = true;
        }
        if let Some(price) = fields::number(
            ui,
            &label("Price"),
            stock.price,
            "",
            0.1,
            "Of a sheet, or of a metre of roll; the plan is the cheapest where prices are given",
        ) {
            stock.price = price.max(0.0);
            changed = true;
        }
        let tip = "Fixed width, any length up to the sheet height";
        changed |= ui.checkbox(&mut stock.roll, "A roll").on_hover_text(tip).changed();
    });
    changed
}

/// What dragging sheets does, by buttons and numbers.
fn by_hand(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "Sheets by hand");
    let Some(layout) = desk.stages.layout().cloned() else { return };
    ui.horizontal_wrapped(|ui| {
        for (i, sheet) in layout.plan.sheets.iter().enumerate() {
            let name =
                if sheet.pinned { format!("{} pinned", sheet.name) } else { sheet.name.clone() };
            if ui.selectable_label(desk.canvas.sheet == Some(i), name).clicked() {
                desk.ask(Action::ChooseSheet(Some(i)));
            }
        }
    });
    if let (Some(index), Some(sheet)) = (desk.canvas.sheet, pins::chosen(desk).cloned()) {
        let unit = desk.job().unit;
        let at = sheet.placed.rect.origin;
        let x = fields::length(
            ui,
            "From the left",
            at.x,
            unit,
            "From the film's left edge to the sheet's printed image",
        );
        let y = fields::length(
            ui,
            "From the top",
            at.y,
            unit,
            "From the film's top edge to the sheet's printed image",
        );
        if (x.is_some() || y.is_some())
            && let Some((mut placed, others)) = pins::taken(desk, index)
        {
            placed.rect.origin = Point::new(x.unwrap_or(at.x), y.unwrap_or(at.y));
            desk.ask(Action::Edit(pins::with(&others, placed)));
        }
        let size = sheet.placed.rect.size;
        fields::figure(
            ui,
            "Printed image",
            format!("{} × {}", size.width.show(unit), size.height.show(unit)),
            "What of this sheet is printed",
        );
    } else if desk.job().pinned.is_empty() {
        fields::says(
            ui,
            "Drag a sheet on the canvas, or choose one here. It stays where you put it, and the planner completes the rest.",
        );
    }
    ui.horizontal_wrapped(|ui| {
        for command in [
            Command::PinSheet,
            Command::TurnSheet,
            Command::RemoveSheet,
            Command::AddSheet,
            Command::PinAll,
            Command::UnpinAll,
        ] {
            command_button(desk, ui, command);
        }
    });
    let pinned = desk.job().pinned.len();
    if pinned > 0 {
        let many =
            if pinned == 1 { "One sheet is".to_owned() } else { format!("{pinned} sheets are") };
        fields::says(ui, format!("{many} pinned"));
    }
}
