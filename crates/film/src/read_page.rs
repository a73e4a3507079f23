use crate::PxRect;
use crate::canvas::Matrix;
use bitmap::Bitmap;
use lopdf::content::Content;
use lopdf::{Dictionary, Document, Object, ObjectId, Stream};

/// What a page paints, read back from its file. Lengths are points with `y` up, from the
/// page's bottom-left corner.
pub(crate) struct ReadPage<'a> {
    /// Left, bottom, right and top of the page.
    pub(crate) media: [f64; 4],
    /// Images in the order they are painted.
    pub(crate) images: Vec<ReadImage<'a>>,
    /// Bounds (left, bottom, right, top) of every path and text painted.
    pub(crate) painted: Vec<[f64; 4]>,
    /// Texts as their hexadecimal glyph numbers, with the font's name.
    pub(crate) texts: Vec<(String, String)>,
    /// The page's drawing operators and images, for the file's identity.
    pub(crate) content: Vec<u8>,
    pub(crate) streams: Vec<&'a [u8]>,
}

/// An image and where it is painted.
pub(crate) struct ReadImage<'a> {
    pub(crate) name: String,
    pub(crate) stream: &'a Stream,
    /// Takes the unit square to the page.
    pub(crate) matrix: Matrix,
    /// The grey it is painted in.
    pub(crate) grey: f64,
}

/// Nothing on a page lies further off than this many pixels, whatever a file says.
pub(crate) const FAR: f64 = 1e9;

impl ReadImage<'_> {
    /// Its left, top, right and bottom in pixels of `pt` points from the top left corner of a
    /// page `top` points high.
    pub(crate) fn edges(&self, top: f64, pt: f64) -> [f64; 4] {
        let m = self.matrix;
        [m[4] / pt, (top - m[5] - m[3]) / pt, (m[4] + m[0]) / pt, (top - m[5]) / pt]
    }

    /// The same to whole pixels, and no farther off than any page reaches.
    pub(crate) fn place(&self, top: f64, pt: f64) -> PxRect {
        let [x0, y0, x1, y1] = self.edges(top, pt).map(|edge| edge.clamp(-FAR, FAR).round() as i64);
        PxRect::between(x0, y0, x1, y1)
    }
}

/// A sheet's picture as it lies on the film: a quarter turn back where the page has it turned.
pub(crate) fn upright(picture: Bitmap, turned: bool) -> Bitmap {
    match turned {
        true => picture.turned_clockwise().turned_clockwise().turned_clockwise(),
        false => picture,
    }
}

/// Reads a page as it comes out of a printer that takes a place drawn to another by `printed`;
/// the text says what is wrong with it.
pub(crate) fn read_page(
    doc: &Document,
    id: ObjectId,
    printed: Matrix,
) -> Result<ReadPage<'_>, String> {
    let page = doc.get_dictionary(id).map_err(|_| "it is no page")?;
    for key in [&b"Rotate"[..], b"UserUnit", b"CropBox", b"Annots"] {
        if page.has(key) {
            let key = String::from_utf8_lossy(key);
            return Err(format!("it has a {key}, which films are written without"));
        }
    }
    let media = page.get(b"MediaBox").and_then(Object::as_array).map_err(|_| "it has no size")?;
    let media: Vec<f64> = media.iter().filter_map(number).collect();
    let media = media.try_into().map_err(|_| "its size is no box of four numbers")?;
    let content = page
        .get(b"Contents")
        .and_then(|c| doc.dereference(c))
        .and_then(|(_, c)| c.as_stream())
        .and_then(Stream::decompressed_content)
        .map_err(|_| "its drawing is missing or damaged")?;
    let operations =
        Content::decode(&content).map_err(|_| "its drawing cannot be read")?.operations;
    let xobjects = page
        .get(b"Resources")
        .and_then(|r| doc.dereference(r))
        .and_then(|(_, r)| r.as_dict())
        .and_then(|r| r.get(b"XObject"))
        .and_then(Object::as_dict)
        .map_err(|_| "it has no images")?;
    let mut out = ReadPage {
        media,
        images: Vec::new(),
        painted: Vec::new(),
        texts: Vec::new(),
        content,
        streams: Vec::new(),
    };
    for (_, object) in xobjects.iter() {
        out.streams.push(&stream(doc, object)?.content);
    }
    let mut reader = Reader {
        doc,
        xobjects,
        state: State { matrix: printed, ..State::default() },
        saved: Vec::new(),
        out,
    };
    for operation in &operations {
        let numbers: Vec<f64> = operation.operands.iter().filter_map(number).collect();
        reader.read(&operation.operator, &numbers, &operation.operands)?;
    }
    Ok(reader.out)
}

fn stream<'a>(doc: &'a Document, object: &'a Object) -> Result<&'a Stream, String> {
    let found = doc.dereference(object).and_then(|(_, o)| o.as_stream());
    found.map_err(|_| "an image of it is missing".into())
}

fn number(object: &Object) -> Option<f64> {
    match object {
        Object::Integer(n) => Some(*n as f64),
        Object::Real(n) => Some(f64::from(*n)),
        _ => None,
    }
}

#[derive(Clone)]
struct State {
    matrix: Matrix,
    grey: f64,
    thick: f64,
    /// The text size.
    size: f64,
}

impl Default for State {
    fn default() -> Self {
        Self { matrix: AS_DRAWN, grey: 0.0, thick: 1.0, size: 0.0 }
    }
}

struct Reader<'a> {
    doc: &'a Document,
    xobjects: &'a Dictionary,
    state: State,
    saved: Vec<State>,
    out: ReadPage<'a>,
}

/// A printer that prints every place where it is drawn.
pub(crate) const AS_DRAWN: Matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];

/// A path's or text's bounds so far, kept in `painted` with nothing in them until painted.
const NOTHING: [f64; 4] = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];

impl Reader<'_> {
    fn read(&mut self, operator: &str, n: &[f64], operands: &[Object]) -> Result<(), String> {
        let state = &mut self.state;
        match (operator, n) {
            ("q", _) => self.saved.push(state.clone()),
            ("Q", _) => *state = self.saved.pop().ok_or("its drawing is out of order")?,
            ("cm", &[a, b, c, d, e, f]) => state.matrix = then([a, b, c, d, e, f], state.matrix),
            ("g", &[grey]) => state.grey = grey,
            ("w", &[thick]) => state.thick = thick,
            ("G", _) | ("d", _) | ("BT", _) | ("ET", _) => {}
            ("re", &[x, y, width, height]) => {
                self.bound(&[(x, y), (x + width, y + height)], 0.0);
            }
            ("m" | "l", &[x, y]) => self.bound(&[(x, y)], self.state.thick / 2.0),
            ("f" | "S", _) => self.out.painted.push(NOTHING),
            ("Tf", &[size]) => {
                let font = operands.first().and_then(|o| o.as_name().ok()).unwrap_or_default();
                let font = String::from_utf8_lossy(font).into_owned();
                self.out.texts.push((font, String::new()));
                state.size = size;
            }
            ("Tm", &[a, b, c, d, x, y]) => {
                self.saved.push(self.state.clone());
                self.state.matrix = then([a, b, c, d, x, y], self.state.matrix);
            }
            ("Tj", _) => self.show(operands)?,
            ("Do", _) => self.image(operands)?,
            _ => {
                return Err(format!(
                    "its drawing has an operator {operator}, which films do without"
                ));
            }
        }
        Ok(())
    }

    /// Widens the bounds of what is being drawn.
    fn bound(&mut self, points: &[(f64, f64)], grow: f64) {
        if self.out.painted.is_empty() {
            self.out.painted.push(NOTHING);
        }
        let m = self.state.matrix;
        // The frames here turn by quarters only, and lean hardly, so that a length keeps in all
        // directions.
        let grow = grow * (m[0].abs() + m[1].abs());
        if let Some(b) = self.out.painted.last_mut() {
            for &(x, y) in points {
                let (u, v) = (m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]);
                *b = [
                    b[0].min(u - grow),
                    b[1].min(v - grow),
                    b[2].max(u + grow),
                    b[3].max(v + grow),
                ];
            }
        }
    }

    fn show(&mut self, operands: &[Object]) -> Result<(), String> {
        let bytes = operands.first().and_then(|o| o.as_str().ok()).unwrap_or_default();
        let glyphs: String = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
        let size = self.state.size;
        let Some((font, text)) = self.out.texts.last_mut() else {
            return Err("it has a text without a font".into());
        };
        let face = crate::font::face(font).ok_or("it has a text in a foreign font")?;
        let [left, bottom, right, top] = face.glyphs_box(bytes, size);
        *text = glyphs;
        self.bound(&[(left, bottom), (right, top)], 0.0);
        self.state = self.saved.pop().unwrap_or_default();
        self.out.painted.push(NOTHING);
        Ok(())
    }

    fn image(&mut self, operands: &[Object]) -> Result<(), String> {
        let name = operands.first().and_then(|o| o.as_name().ok()).unwrap_or_default();
        let object = self.xobjects.get(name).map_err(|_| "an image of it is missing")?;
        self.out.images.push(ReadImage {
            name: String::from_utf8_lossy(name).into_owned(),
            stream: stream(self.doc, object)?,
            matrix: self.state.matrix,
            grey: self.state.grey,
        });
        Ok(())
    }
}

/// First one matrix, then the other.
fn then(a: Matrix, b: Matrix) -> Matrix {
    [
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    ]
}
