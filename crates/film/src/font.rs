use lopdf::{Document, Object, ObjectId, Stream, dictionary};
use std::fmt::Write;
use std::sync::LazyLock;

/// A typeface that is embedded whole: its file is small, and a page that is opened
/// years from now still shows every letter.
pub struct Face {
    /// Its name among a page's resources.
    pub(crate) name: &'static str,
    post_script: &'static str,
    file: &'static [u8],
    /// Always there: a test reads both files.
    parsed: Option<ttf_parser::Face<'static>>,
}

/// For reading.
pub static REGULAR: LazyLock<Face> = LazyLock::new(|| {
    Face::new(
        "Regular",
        "AtkinsonHyperlegibleNext-Regular",
        include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext-Regular.ttf"),
    )
});

/// For what must be seen first.
pub static BOLD: LazyLock<Face> = LazyLock::new(|| {
    Face::new(
        "Bold",
        "AtkinsonHyperlegibleNext-SemiBold",
        include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext-SemiBold.ttf"),
    )
});

/// The face of that name among a page's resources.
pub(crate) fn face(name: &str) -> Option<&'static Face> {
    [&*REGULAR, &*BOLD].into_iter().find(|face| face.name == name)
}

/// Glyphs are measured in thousandths of the text size, as PDF does; the files use the
/// same, which a test makes sure of.
const UNITS: f64 = 1000.0;

impl Face {
    fn new(name: &'static str, post_script: &'static str, file: &'static [u8]) -> Self {
        Self { name, post_script, file, parsed: ttf_parser::Face::parse(file, 0).ok() }
    }

    /// How wide a text is at a size, in the size's unit.
    pub fn width(&self, text: &str, size: f64) -> f64 {
        let advance: f64 = text.chars().map(|c| f64::from(self.advance(self.glyph(c)))).sum();
        advance * size / UNITS
    }

    /// Left, bottom, right and top of glyphs given by number in two bytes each, from where
    /// their baseline begins, `y` up.
    pub(crate) fn glyphs_box(&self, numbers: &[u8], size: f64) -> [f64; 4] {
        let mut x = 0.0;
        let mut out = [0.0_f64; 4];
        for pair in numbers.chunks(2) {
            let glyph = u16::from_be_bytes([pair[0], pair.get(1).copied().unwrap_or(0)]);
            let face = self.parsed.as_ref();
            if let Some(b) = face.and_then(|f| f.glyph_bounding_box(ttf_parser::GlyphId(glyph))) {
                let [left, bottom, right, top] =
                    [b.x_min, b.y_min, b.x_max, b.y_max].map(f64::from);
                out = [
                    out[0].min(x + left),
                    out[1].min(bottom),
                    out[2].max(x + right),
                    out[3].max(top),
                ];
            }
            x += f64::from(self.advance(glyph));
        }
        out.map(|n| n * size / UNITS)
    }

    /// The height of a capital letter at a size.
    pub fn capital(&self, size: f64) -> f64 {
        let height = self.parsed.as_ref().and_then(ttf_parser::Face::capital_height);
        f64::from(height.unwrap_or(700)) * size / UNITS
    }

    /// The text as hexadecimal glyph numbers, four digits each.
    pub(crate) fn glyphs(&self, text: &str) -> String {
        let mut out = String::new();
        for c in text.chars() {
            let _ = write!(out, "{:04X}", self.glyph(c));
        }
        out
    }

    /// The text cut short, with dots, so that it is no wider than `room`.
    pub fn shortened(&self, text: &str, size: f64, room: f64) -> String {
        if self.width(text, size) <= room {
            return text.to_owned();
        }
        let mut kept: Vec<char> = text.chars().collect();
        loop {
            kept.pop();
            let shown = kept.iter().collect::<String>().trim_end().to_owned() + "\u{2026}";
            if kept.is_empty() || self.width(&shown, size) <= room {
                return shown;
            }
        }
    }

    /// The letter's glyph; a question mark's where the face has none for it.
    fn glyph(&self, c: char) -> u16 {
        let Some(face) = &self.parsed else { return 0 };
        face.glyph_index(c).or_else(|| face.glyph_index('?')).map_or(0, |glyph| glyph.0)
    }

    fn advance(&self, glyph: u16) -> u16 {
        let face = self.parsed.as_ref();
        face.and_then(|f| f.glyph_hor_advance(ttf_parser::GlyphId(glyph))).unwrap_or(0)
    }

    /// Embeds the face as a composite font, whose codes are glyph numbers (ISO 32000-1,
    /// 9.7), with a map back to Unicode so that text can be searched and copied.
    pub(crate) fn embed(&self, doc: &mut Document) -> ObjectId {
        let Some(face) = &self.parsed else { return doc.add_object(Object::Null) };
        let name = || Object::Name(self.post_script.as_bytes().to_vec());
        let length = self.file.len() as i64;
        let file = packed(dictionary! { "Length1" => length }, self.file);
        let file = doc.add_object(file);
        let bounds = face.global_bounding_box();
        let descriptor = doc.add_object(dictionary! {
            "Type" => "FontDescriptor",
            "FontName" => name(),
            // Symbolic: glyphs are named by number, not by a standard Latin encoding.
            "Flags" => 4,
            "FontBBox" => [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max]
                .map(|n| Object::Integer(n.into())).to_vec(),
            "ItalicAngle" => 0,
            "Ascent" => i64::from(face.ascender()),
            "Descent" => i64::from(face.descender()),
            "CapHeight" => i64::from(face.capital_height().unwrap_or(700)),
            "StemV" => 90,
            "FontFile2" => file,
        });
        let widths: Vec<Object> = (0..face.number_of_glyphs())
            .map(|glyph| Object::Integer(self.advance(glyph).into()))
            .collect();
        let descendant = doc.add_object(dictionary! {
            "Type" => "Font",
            "Subtype" => "CIDFontType2",
            "BaseFont" => name(),
            "CIDSystemInfo" => dictionary! {
                "Registry" => Object::string_literal("Adobe"),
                "Ordering" => Object::string_literal("Identity"),
                "Supplement" => 0,
            },
            "FontDescriptor" => descriptor,
            "CIDToGIDMap" => "Identity",
            "W" => vec![Object::Integer(0), Object::Array(widths)],
        });
        let to_unicode = packed(dictionary! {}, self.to_unicode(face).as_bytes());
        let to_unicode = doc.add_object(to_unicode);
        doc.add_object(dictionary! {
            "Type" => "Font",
            "Subtype" => "Type0",
            "BaseFont" => name(),
            "Encoding" => "Identity-H",
            "DescendantFonts" => vec![Object::Reference(descendant)],
            "ToUnicode" => to_unicode,
        })
    }

    /// The glyphs' letters, for the first hundreds of Unicode that the face covers.
    fn to_unicode(&self, face: &ttf_parser::Face) -> String {
        let mut letters: Vec<(u16, u32)> = Vec::new();
        for c in (0x20..0x2600).filter_map(char::from_u32) {
            if let Some(glyph) = face.glyph_index(c) {
                letters.push((glyph.0, c as u32));
            }
        }
        // Where letters share a glyph, the first of them stands for it.
        letters.sort_unstable();
        letters.dedup_by_key(|(glyph, _)| *glyph);
        let mut out = String::from(
            "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n\
             /CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n\
             /CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n\
             1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n",
        );
        // A block may have at most a hundred entries.
        for block in letters.chunks(100) {
            let _ = writeln!(out, "{} beginbfchar", block.len());
            for (glyph, letter) in block {
                let _ = writeln!(out, "<{glyph:04X}> <{letter:04X}>");
            }
            out.push_str("endbfchar\n");
        }
        out + "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    }
}

/// A stream packed by Flate.
pub(crate) fn packed(mut dict: lopdf::Dictionary, content: &[u8]) -> Stream {
    use flate2::{Compression, write::ZlibEncoder};
    use std::io::Write as _;
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing to memory does not fail; should it, the content goes in as it is.
    match encoder.write_all(content).and_then(|()| encoder.finish()) {
        Ok(bytes) => {
            dict.set("Filter", "FlateDecode");
            Stream::new(dict, bytes).with_compression(false)
        }
        Err(_) => Stream::new(dict, content.to_vec()).with_compression(false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_faces_cover_what_is_printed() {
        for face in [&*REGULAR, &*BOLD] {
            let parsed = face.parsed.as_ref().unwrap();
            assert_eq!(f64::from(parsed.units_per_em()), UNITS);
            for c in ('A'..='Z')
                .chain('a'..='z')
                .chain('0'..='9')
                .chain(" .,:;-/()%\u{d7}\u{2026}".chars())
            {
                assert!(parsed.glyph_index(c).is_some(), "{} lacks {c:?}", face.post_script);
            }
            assert!(face.width("mm", 10.0) > face.width("ii", 10.0));
            assert_eq!(face.glyphs("\u{1f455}"), face.glyphs("?"));
            let short = face.shortened("Night market, back print", 3.0, 20.0);
            assert!(short.ends_with('\u{2026}') && face.width(&short, 3.0) <= 20.0, "{short}");
        }
    }
}
