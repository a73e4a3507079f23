use crate::canvas::{Align, Canvas};
use crate::font::{BOLD, REGULAR};
use measure::{Length, Size};

/// What is printed on a sheet for the person who handles it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Legend {
    /// All of it in a row, where the page has room beside the image.
    Strip,
    /// The sheet's name and which edge is up.
    Name,
    /// The ruler, and a line of notes.
    Ruler,
}

/// Legends are drawn smaller where room is short, but not smaller than this: notes then
/// have capitals of 0.9 mm, which is as small as is read with ease on film.
pub(crate) const SMALLEST: f64 = 0.6;

/// Beside the image there may be room to spare for a name that is read from afar.
pub(crate) const LARGEST: f64 = 1.6;

/// What a legend says.
pub(crate) struct Notes<'a> {
    pub(crate) name: &'a str,
    /// Which screen the film is for, such as `2 of 4 Red`, where there are several.
    pub(crate) screen: Option<&'a str>,
    pub(crate) title: &'a str,
    /// This sheet's number, from 1, and how many there are.
    pub(crate) number: (usize, usize),
}

/// Sizes below are millimetres at full scale.
const NAME_SIZE: f64 = 9.0;
const ARROW: f64 = 5.0;
const NOTE_SIZE: f64 = 2.4;
const PAD: f64 = 0.8;
const ADVICE: &str = "Print at 100 %. Printed side to the emulsion.";
const RULER: f64 = 53.0;

impl Legend {
    /// How much room it takes at full scale, reading from left to right.
    pub(crate) fn size(self, name: &str) -> Size {
        let (width, height) = match self {
            Self::Strip => (name_width(name) + RULER + 8.0, 8.4),
            Self::Name => (name_width(name), 8.4),
            Self::Ruler => (RULER + 4.0 + 2.0 * PAD, 8.2),
        };
        Size::new(Length::mm(width), Length::mm(height))
    }

    /// What the plan calls it.
    pub(crate) const fn kind(self) -> &'static str {
        match self {
            Self::Strip => "legend",
            Self::Name => "name",
            Self::Ruler => "ruler",
        }
    }

    /// Draws it into a frame of millimetres (at full scale), `width` wide. Lengths on the
    /// ruler are divided by `scale`, so that they are true where the frame is smaller. `up`
    /// is where the film's top lies.
    pub(crate) fn draw(self, canvas: &mut Canvas, width: f64, scale: f64, up: Up, notes: &Notes) {
        match self {
            Self::Name => draw_name(canvas, up, notes.name),
            Self::Ruler => {
                let told = notes.screen.map_or_else(|| ADVICE.into(), |s| format!("{s}. {ADVICE}"));
                note(canvas, (PAD, 2.2), width - 2.0 * PAD, &told);
                draw_ruler(canvas, (PAD, 5.4), width - 2.0 * PAD, scale);
            }
            Self::Strip => {
                draw_name(canvas, up, notes.name);
                let left = name_width(notes.name) + 4.0;
                let long = (110.0 / scale).min(width * 0.5).max(RULER);
                draw_ruler(canvas, (left, 4.1), long, scale);
                let left = left + long + 5.0;
                let room = width - left - PAD;
                if room > 12.0 {
                    let [first, second] = two_lines(notes);
                    note(canvas, (left, 3.4), room, &first);
                    note(canvas, (left, 6.8), room, &second);
                }
            }
        }
    }
}

/// Where the film's top lies in a legend's own frame.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Up {
    /// Above: the legend reads from left to right on the film.
    Above,
    /// To its right: it reads from the bottom up.
    Right,
}

fn name_width(name: &str) -> f64 {
    BOLD.width(name, NAME_SIZE) + ARROW + 3.0 * PAD + 1.0
}

fn draw_name(canvas: &mut Canvas, up: Up, name: &str) {
    let base = 0.9 + BOLD.capital(NAME_SIZE);
    canvas.text(&BOLD, NAME_SIZE, (PAD, base), Align::Left, name);
    let left = PAD + BOLD.width(name, NAME_SIZE) + 1.4;
    // An arrow with its word under it, as wide as high, so that it may point either way.
    let (x, y, r) = (left + ARROW / 2.0, 3.0, 2.1);
    let tip = |along: f64, aside: f64| match up {
        Up::Above => (x + aside, y - along),
        Up::Right => (x + along, y + aside),
    };
    canvas.polygon(&[
        tip(r, 0.0),
        tip(0.0, r),
        tip(0.0, 0.6),
        tip(-r, 0.6),
        tip(-r, -0.6),
        tip(0.0, -0.6),
        tip(0.0, -r),
    ]);
    canvas.text(&BOLD, NOTE_SIZE, (x, base + 0.1), Align::Center, "UP");
}

/// A ruler of whole centimetres above its line and of whole inches below it, no longer than
/// `room`.
fn draw_ruler(canvas: &mut Canvas, (x, y): (f64, f64), room: f64, scale: f64) {
    // The last numbers and their units stand past the end of the line.
    let room = (room - 4.0) * scale;
    let thin = 0.12 / scale;
    let (cm, inches) = ((room / 10.0).floor(), (room / 25.4).floor());
    canvas.line(&[(x, y), (x + (cm * 10.0).max(inches * 25.4) / scale, y)], thin);
    let mut marks = |count: f64, step: f64, parts: u32, up: f64, unit: &str| {
        for n in 0..=(count * f64::from(parts)) as u32 {
            let at = x + f64::from(n) * step / scale;
            let long = match n % parts {
                0 => 2.4,
                part if part * 2 == parts => 1.2,
                part if part * 4 % parts == 0 => 0.9,
                _ => 0.65,
            };
            canvas.line(&[(at, y), (at, y - up * long)], thin);
            if n % parts == 0 {
                let whole = n / parts;
                let last = if f64::from(whole) == count { unit } else { "" };
                let base = if up > 0.0 { y - 1.25 } else { y + 2.45 };
                canvas.text(
                    &REGULAR,
                    1.8,
                    (at + 0.35, base),
                    Align::Left,
                    &format!("{whole}{last}"),
                );
            }
        }
    };
    marks(cm, 1.0, 10, 1.0, " cm");
    marks(inches, 25.4 / 16.0, 16, -1.0, " in");
}

fn note(canvas: &mut Canvas, at: (f64, f64), room: f64, text: &str) {
    let text = REGULAR.shortened(text, NOTE_SIZE, room);
    canvas.text(&REGULAR, NOTE_SIZE, at, Align::Left, &text);
}

fn two_lines(notes: &Notes) -> [String; 2] {
    let (n, of) = notes.number;
    let sheet = format!("sheet {n} of {of}");
    let first = match notes.screen {
        Some(screen) => format!("{screen}, {sheet}, {}", notes.title),
        None => format!("{}, {sheet}", notes.title),
    };
    [first, ADVICE.into()]
}
