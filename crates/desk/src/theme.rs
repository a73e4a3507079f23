//! The window's look. By day it is a light table and a sheet of coated paper; by night it is
//! the coating room, where only the amber safelight burns.

use eframe::egui::{
    self, Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Stroke, Style,
    TextStyle, Theme, Visuals,
};
use std::sync::Arc;

/// Every colour the window paints with. Text colours reach a contrast of 4.5 on the surfaces
/// they stand on, marks and edges of controls 3 (WCAG 2.2, 1.4.3 and 1.4.11).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Palette {
    /// Behind panels.
    pub(crate) paper: Color32,
    /// Behind the rail and the bars.
    pub(crate) board: Color32,
    /// Fields to type into.
    pub(crate) field: Color32,
    /// Main text.
    pub(crate) text: Color32,
    /// Explanations.
    pub(crate) quiet: Color32,
    /// Edges of controls.
    pub(crate) edge: Color32,
    /// Thin lines that part things.
    pub(crate) hairline: Color32,
    /// What is chosen, and what can be dragged: emulsion by day, safelight by night.
    pub(crate) accent: Color32,
    /// Text on the accent.
    pub(crate) on_accent: Color32,
    /// A faint wash of the accent.
    pub(crate) wash: Color32,
    /// Something needs a look.
    pub(crate) look: Color32,
    /// Something is wrong.
    pub(crate) wrong: Color32,
    /// The table under the garment.
    pub(crate) table: Color32,
    /// The garment's cloth.
    pub(crate) cloth: Color32,
    /// Seams and edges of the cloth.
    pub(crate) thread: Color32,
    /// Paper that a drawing lies on.
    pub(crate) page: Color32,
    /// Ink on the film.
    pub(crate) ink: Color32,
    /// A sheet's edge on cloth or table.
    pub(crate) sheet: Color32,
    /// Beside a sheet's edge, where the edge itself does not show.
    pub(crate) sheet_halo: Color32,
    /// What lies off the garment is veiled with this.
    pub(crate) veil: Color32,
}

const DAY: Palette = Palette {
    paper: Color32::from_rgb(0xFB, 0xF9, 0xF4),
    board: Color32::from_rgb(0xEF, 0xEB, 0xE1),
    field: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    text: Color32::from_rgb(0x1D, 0x24, 0x2B),
    quiet: Color32::from_rgb(0x56, 0x5C, 0x5E),
    edge: Color32::from_rgb(0x80, 0x80, 0x78),
    hairline: Color32::from_rgb(0xD6, 0xD0, 0xC2),
    accent: Color32::from_rgb(0x0B, 0x6B, 0x5E),
    on_accent: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    wash: Color32::from_rgb(0xD5, 0xE6, 0xDF),
    look: Color32::from_rgb(0x8A, 0x53, 0x00),
    wrong: Color32::from_rgb(0xA6, 0x24, 0x24),
    table: Color32::from_rgb(0xC9, 0xCB, 0xC6),
    cloth: Color32::from_rgb(0xF3, 0xEE, 0xE2),
    thread: Color32::from_rgb(0x7C, 0x76, 0x68),
    page: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    ink: Color32::from_rgb(0x16, 0x18, 0x1D),
    sheet: Color32::from_rgb(0x0B, 0x6B, 0x5E),
    sheet_halo: Color32::from_rgb(0xFB, 0xF9, 0xF4),
    veil: Color32::from_rgba_premultiplied(0xA9, 0xAB, 0xA6, 0xD6),
};

const NIGHT: Palette = Palette {
    paper: Color32::from_rgb(0x24, 0x1F, 0x1B),
    board: Color32::from_rgb(0x1B, 0x17, 0x14),
    field: Color32::from_rgb(0x14, 0x11, 0x0F),
    text: Color32::from_rgb(0xF0, 0xE6, 0xD8),
    quiet: Color32::from_rgb(0xB5, 0xA8, 0x98),
    edge: Color32::from_rgb(0x8C, 0x80, 0x72),
    hairline: Color32::from_rgb(0x40, 0x38, 0x31),
    accent: Color32::from_rgb(0xF0, 0xA8, 0x3C),
    on_accent: Color32::from_rgb(0x1B, 0x14, 0x08),
    wash: Color32::from_rgb(0x4A, 0x38, 0x1E),
    look: Color32::from_rgb(0xF2, 0xC9, 0x5C),
    wrong: Color32::from_rgb(0xFF, 0x8F, 0x7D),
    table: Color32::from_rgb(0x2E, 0x29, 0x25),
    cloth: Color32::from_rgb(0xB9, 0xAE, 0x9C),
    thread: Color32::from_rgb(0x5C, 0x53, 0x48),
    page: Color32::from_rgb(0xB9, 0xAE, 0x9C),
    ink: Color32::from_rgb(0x12, 0x0F, 0x0D),
    sheet: Color32::from_rgb(0x6A, 0x3A, 0x00),
    sheet_halo: Color32::from_rgb(0xF0, 0xA8, 0x3C),
    veil: Color32::from_rgba_premultiplied(0x27, 0x23, 0x1F, 0xD6),
};

impl Palette {
    /// The colours in use.
    pub(crate) fn of(ctx: &egui::Context) -> &'static Self {
        Self::for_theme(ctx.theme())
    }

    /// The colours of a theme.
    pub(crate) fn for_theme(theme: Theme) -> &'static Self {
        match theme {
            Theme::Light => &DAY,
            Theme::Dark => &NIGHT,
        }
    }
}

/// The heavier weight of the window's typeface.
pub(crate) fn strong(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("strong".into()))
}

/// Sets typeface, sizes and colours, once at the start.
pub(crate) fn install(ctx: &egui::Context) {
    ctx.set_fonts(fonts());
    for theme in [Theme::Light, Theme::Dark] {
        ctx.set_style_of(theme, style(theme));
    }
}

fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let files: [(&str, &[u8]); 2] = [
        ("regular", include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext-Regular.ttf")),
        ("semibold", include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext-SemiBold.ttf")),
    ];
    for (name, bytes) in files {
        fonts.font_data.insert(name.into(), Arc::new(FontData::from_static(bytes)));
    }
    let fallback = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let with = |first: &str| {
        let mut list = vec![first.to_owned()];
        list.extend(fallback.iter().cloned());
        list
    };
    fonts.families.insert(FontFamily::Proportional, with("regular"));
    fonts.families.insert(FontFamily::Name("strong".into()), with("semibold"));
    fonts
}

fn style(theme: Theme) -> Style {
    let p = Palette::for_theme(theme);
    let mut style = Style { visuals: visuals(theme, p), ..Style::default() };
    style.text_styles = [
        (TextStyle::Small, FontId::proportional(13.0)),
        (TextStyle::Body, FontId::proportional(15.0)),
        (TextStyle::Button, FontId::proportional(15.0)),
        (TextStyle::Monospace, FontId::monospace(14.0)),
        (TextStyle::Heading, strong(21.0)),
    ]
    .into();
    style.spacing.item_spacing = egui::vec2(8.0, 7.0);
    style.spacing.button_padding = egui::vec2(11.0, 5.0);
    style.spacing.interact_size = egui::vec2(40.0, 28.0);
    style.spacing.icon_width = 18.0;
    style.spacing.combo_width = 150.0;
    style.spacing.scroll.floating = true;
    style.interaction.tooltip_delay = 0.35;
    style
}

fn visuals(theme: Theme, p: &Palette) -> Visuals {
    let mut v = match theme {
        Theme::Light => Visuals::light(),
        Theme::Dark => Visuals::dark(),
    };
    v.panel_fill = p.paper;
    v.window_fill = p.paper;
    v.window_stroke = Stroke::new(1.0, p.edge);
    v.window_corner_radius = CornerRadius::same(3);
    v.menu_corner_radius = CornerRadius::same(3);
    v.extreme_bg_color = p.field;
    v.faint_bg_color = p.board;
    v.code_bg_color = p.board;
    v.hyperlink_color = p.accent;
    v.warn_fg_color = p.look;
    v.error_fg_color = p.wrong;
    v.weak_text_color = Some(p.quiet);
    v.selection.bg_fill = p.wash;
    v.selection.stroke = Stroke::new(1.5, p.accent);
    v.text_cursor.stroke = Stroke::new(2.0, p.accent);
    let corner = CornerRadius::same(2);
    for (w, fill, line, text) in [
        (&mut v.widgets.noninteractive, p.paper, p.hairline, p.text),
        (&mut v.widgets.inactive, p.board, p.edge, p.text),
        (&mut v.widgets.hovered, p.wash, p.accent, p.text),
        (&mut v.widgets.active, p.wash, p.accent, p.text),
        (&mut v.widgets.open, p.wash, p.accent, p.text),
    ] {
        w.bg_fill = fill;
        w.weak_bg_fill = fill;
        w.bg_stroke = Stroke::new(1.0, line);
        w.fg_stroke = Stroke::new(1.5, text);
        w.corner_radius = corner;
        w.expansion = 0.0;
    }
    v.widgets.active.bg_stroke.width = 2.0;
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast by WCAG 2.2's definition of relative luminance.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let linear = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * linear(c.r()) + 0.7152 * linear(c.g()) + 0.0722 * linear(c.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_is_computed_as_published() {
        // WebAIM's worked pair: #767676 on white is 4.54, #777777 is 4.48.
        assert!((contrast(Color32::from_gray(0x76), Color32::WHITE) - 4.542).abs() < 1e-3);
        assert!((contrast(Color32::from_gray(0x77), Color32::WHITE) - 4.478).abs() < 1e-3);
    }

    #[test]
    fn text_and_marks_stand_out_in_both_themes() {
        for theme in [Theme::Light, Theme::Dark] {
            let p = Palette::for_theme(theme);
            for back in [p.paper, p.board, p.field, p.wash] {
                for text in [p.text, p.quiet] {
                    assert!(contrast(text, back) >= 4.5, "{theme:?} {text:?} on {back:?}");
                }
            }
            for back in [p.paper, p.board] {
                for text in [p.accent, p.look, p.wrong] {
                    assert!(contrast(text, back) >= 4.5, "{theme:?} {text:?} on {back:?}");
                }
                assert!(contrast(p.edge, back) >= 3.0, "{theme:?} edge on {back:?}");
            }
            assert!(contrast(p.on_accent, p.accent) >= 4.5, "{theme:?}");
            assert!(contrast(p.ink, p.page) >= 4.5, "{theme:?}");
            assert!(contrast(p.thread, p.cloth) >= 3.0, "{theme:?}");
            for back in [p.cloth, p.table, p.ink] {
                let best = contrast(p.sheet, back).max(contrast(p.sheet_halo, back));
                assert!(best >= 3.0, "{theme:?} sheet on {back:?}");
            }
        }
    }
}
