use crate::font::{BOLD, REGULAR, packed};
use lopdf::{Dictionary, Document, Object, ObjectId, Stream, StringFormat, dictionary};
use measure::Size;
use std::io::{self, Write};

/// A PDF file being put together: pages in order, and the wishes to the viewer that keep
/// them from being scaled. Nothing in it depends on when or where it is written.
pub struct Pdf {
    doc: Document,
    pages: ObjectId,
    kids: Vec<Object>,
    labels: Vec<Object>,
    fonts: ObjectId,
    title: String,
    digest: Digest,
}

/// What goes on a page.
pub struct Page {
    /// The sheet's size, upright.
    pub size: Size,
    /// What the page is called beside its number.
    pub label: String,
    /// The drawing operators.
    pub content: Vec<u8>,
    /// Images by the names that the content uses.
    pub images: Vec<(String, Stream)>,
}

impl Pdf {
    /// An empty file of this title.
    pub fn new(title: &str) -> Self {
        // PickTrayByPDFSize and NumCopies came with version 1.7.
        let mut doc = Document::with_version("1.7");
        let pages = doc.new_object_id();
        let (regular, bold) = (REGULAR.embed(&mut doc), BOLD.embed(&mut doc));
        let fonts = doc.add_object(dictionary! { REGULAR.name => regular, BOLD.name => bold });
        Self {
            doc,
            pages,
            kids: Vec::new(),
            labels: Vec::new(),
            fonts,
            title: title.to_owned(),
            digest: Digest::default(),
        }
    }

    /// Adds a page after the others. Each has its own resources, so that a file split
    /// into pages keeps what each of them needs and no more.
    pub fn add(&mut self, page: Page) {
        let mut images = Dictionary::new();
        for (name, stream) in page.images {
            self.digest.add(&stream.content);
            images.set(name, self.doc.add_object(stream));
        }
        self.digest.add(&page.content);
        let content = self.doc.add_object(packed(dictionary! {}, &page.content));
        let resources = dictionary! { "Font" => self.fonts, "XObject" => images };
        let (width, height) = (page.size.width.to_pt() as f32, page.size.height.to_pt() as f32);
        let media = vec![0.into(), 0.into(), Object::Real(width), Object::Real(height)];
        let kid = self.doc.add_object(dictionary! {
            "Type" => "Page",
            "Parent" => self.pages,
            "MediaBox" => media,
            "Resources" => resources,
            "Contents" => content,
        });
        self.labels.push(Object::Integer(self.kids.len() as i64));
        self.labels.push(Object::Dictionary(dictionary! { "P" => text(&page.label) }));
        self.kids.push(kid.into());
    }

    /// Writes the file and says its identity.
    ///
    /// # Errors
    /// What the writer reports.
    pub fn finish(mut self, out: &mut impl Write) -> io::Result<String> {
        let count = self.kids.len() as i64;
        let pages = dictionary! { "Type" => "Pages", "Kids" => self.kids, "Count" => count };
        self.doc.set_object(self.pages, pages);
        // ISO 32000-1, Table 150.
        let wishes = dictionary! {
            "PrintScaling" => "None",
            "PickTrayByPDFSize" => true,
            "Duplex" => "Simplex",
            "NumCopies" => 1,
            "DisplayDocTitle" => true,
        };
        let catalog = self.doc.add_object(dictionary! {
            "Type" => "Catalog",
            "Pages" => self.pages,
            "PageMode" => "UseNone",
            "PageLabels" => dictionary! { "Nums" => self.labels },
            "ViewerPreferences" => wishes,
        });
        let title = text(&self.title);
        self.digest.add(title.as_str().unwrap_or_default());
        let info = dictionary! { "Title" => title, "Producer" => text("Filmquilt") };
        let info = self.doc.add_object(info);
        let id = Object::String(self.digest.bytes().to_vec(), StringFormat::Hexadecimal);
        self.doc.trailer.set("Root", catalog);
        self.doc.trailer.set("Info", info);
        self.doc.trailer.set("ID", vec![id.clone(), id]);
        let mut out = io::BufWriter::with_capacity(1 << 16, out);
        self.doc.save_to(&mut out)?;
        out.flush()?;
        Ok(self.digest.hex())
    }
}

/// A text string: as it is where it is plain ASCII, else UTF-16 (ISO 32000-1, 7.9.2.2).
pub(crate) fn text(text: &str) -> Object {
    if text.is_ascii() {
        return Object::string_literal(text);
    }
    let bytes = [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_be_bytes);
    Object::String(bytes.collect(), StringFormat::Hexadecimal)
}

/// A file's identity from what is in it: FNV-1a of 128 bits, eight bytes at a time. It
/// tells files apart; it protects nothing.
pub(crate) struct Digest(u128);

impl Default for Digest {
    fn default() -> Self {
        Self(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }
}

impl Digest {
    pub(crate) fn add(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut eight = [0; 8];
            eight[..chunk.len()].copy_from_slice(chunk);
            self.mix(u64::from_le_bytes(eight));
        }
        self.mix(bytes.len() as u64);
    }

    fn mix(&mut self, word: u64) {
        self.0 =
            (self.0 ^ u128::from(word)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013B);
    }

    fn bytes(&self) -> [u8; 16] {
        self.0.to_be_bytes()
    }

    /// The identity in hexadecimal, as a plan says it.
    pub(crate) fn hex(&self) -> String {
        self.bytes().iter().map(|byte| format!("{byte:02x}")).collect()
    }
}
