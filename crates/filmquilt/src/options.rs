//! Options to edits: a typed word becomes a checked number, once, here.

use crate::args::{
    AlignName, ArtOptions, EdgesName, JobOptions, PaperName, PiecesName, ShopOptions, SourceName,
};
use crate::failure::Failure;
use crate::toning;
use ::shop::{Align, Notebook, Shop};
use artwork::{Crop, Cut, Edges, Source};
use garment::Garment;
use job::{Edit, FrameMarks, Job, Mend, Mended};
use measure::{Angle, Length, Resolution, parse_length, parse_size};
use sheets::{Margins, Pieces, Stock};
use std::path::Path;

/// The job with the artwork's options laid over it.
pub(crate) fn art(job: Job, o: &ArtOptions) -> Result<Job, Failure> {
    let mut edits = Vec::new();
    if let Some(text) = &o.width {
        edits.push(Edit::Width(length("--width", text)?));
    }
    if let Some(text) = &o.turn {
        let degrees = number("--turn", text.trim_end_matches("deg"))?;
        edits.push(Edit::Turn(Angle::deg(degrees)));
    }
    if let Some(text) = &o.ppi {
        let ppi = number("--ppi", text.trim_end_matches("ppi"))?;
        edits.push(Edit::Resolution(Resolution::ppi(ppi)));
    }
    if let Some(text) = &o.cut {
        edits.push(Edit::Cut(match text.as_str() {
            "auto" => Cut::Auto,
            "local" => Cut::Local,
            level => Cut::At(number("--cut", level)?),
        }));
    }
    if o.invert {
        edits.push(Edit::Invert(true));
    }
    if let Some(text) = &o.crop {
        edits.push(Edit::Crop(Some(crop(text)?)));
    }
    edits.extend(o.source.map(|s| Edit::Source(s.into())));
    edits.extend(o.edges.map(|e| Edit::Edges(e.into())));
    if let Some(text) = &o.specks {
        edits.push(Edit::Speck(number("--specks", text)?));
    }
    if o.flatten {
        edits.push(Edit::Flatten(true));
    }
    let tone = toning::tone(&job.tone, &o.tone)?;
    let printing = toning::printing(tone.as_ref().unwrap_or(&job.tone), &job.printing, &o.tone)?;
    edits.extend(tone.map(Edit::Tone));
    edits.extend(printing.map(Edit::Printing));
    if let Some(text) = &o.mend {
        let mend = Mend { finest: length("--mend", text)?, places: Mended::All };
        edits.push(Edit::Mend(Some(mend)));
    }
    can_mend(apply(job, edits)?, o)
}

/// The job, unless fine lines are to be mended that are fine on purpose.
fn can_mend(job: Job, o: &ArtOptions) -> Result<Job, Failure> {
    if o.mend.is_some() && !job.tone.is_cut() {
        let why = "--mend goes with --tone cut: dots and grains are fine on purpose";
        return Err(Failure::usage(why));
    }
    Ok(job)
}

/// The job with all options laid over it.
pub(crate) fn whole(job: Job, o: &JobOptions) -> Result<Job, Failure> {
    let job = art(job, &o.art)?;
    let mut edits = Vec::new();
    if o.sheet.is_some() || o.margin.is_some() {
        edits.push(Edit::Stocks(stocks(&job, o)?));
    }
    if let Some(text) = &o.overlap {
        edits.push(Edit::Overlap(length("--overlap", text)?));
    }
    if o.trim_lines {
        edits.push(Edit::TrimLines(true));
    }
    let mut marks = job.frame_marks.clone();
    if let Some(text) = &o.pin_marks {
        not_finite("--pin-marks", text)?;
        marks.pins = FrameMarks::pins_from(text, None)
            .map_err(|why| Failure::usage(format!("--pin-marks: {why}")))?;
    }
    if let Some(text) = &o.tape_marks {
        marks.tape = Some(length("--tape-marks", text)?);
    }
    if marks != job.frame_marks {
        edits.push(Edit::FrameMarks(marks));
    }
    if let Some(path) = &o.printer {
        edits.push(Edit::Printer(Some(job::calibrate::open(path)?)));
    }
    if let Some(name) = &o.garment {
        edits.push(Edit::Garment(named_garment(name)?));
    }
    if !o.also.is_empty() {
        edits.push(Edit::Also(named_garments(&o.also)?));
    }
    edits.extend(o.align.map(|a| Edit::Align(a.into())));
    if let Some(text) = &o.bleed {
        edits.push(Edit::Bleed(length("--bleed", text)?));
    }
    if let Some(text) = &o.surround {
        edits.push(Edit::Surround(length("--surround", text)?));
    }
    edits.extend(o.pieces.map(|p| Edit::Pieces(p.into())));
    edits.extend(toning::inks(job.inks.as_ref(), &o.inks)?.map(|inks| Edit::Inks(Some(inks))));
    can_mend(apply(job, edits)?, &o.art)
}

/// The shop's own numbers, or the usual ones.
pub(crate) fn shop(o: &ShopOptions) -> Result<(Shop, Notebook), Failure> {
    let mut shop = kept(o.shop.as_deref())?;
    shop.quantity = o.quantity.unwrap_or(shop.quantity);
    let notebook = match &o.notebook {
        Some(path) if !path.exists() => {
            let why = format!("{} could not be read: it is not there", path.display());
            return Err(Failure::new(why, "check the path"));
        }
        Some(path) => Notebook::read(path)?,
        None => Notebook::default(),
    };
    Ok((shop, notebook))
}

/// The numbers kept in a shop's file, or the usual ones.
pub(crate) fn kept(path: Option<&Path>) -> Result<Shop, Failure> {
    Ok(path.map_or_else(|| Ok(Shop::default()), Shop::read)?)
}

pub(crate) fn apply(job: Job, edits: Vec<Edit>) -> Result<Job, Failure> {
    edits.into_iter().try_fold(job, |job, edit| job.apply(edit)).map_err(Failure::from)
}

/// A stock, by its name or its sides.
pub(crate) fn stock(option: &str, text: &str) -> Result<Stock, Failure> {
    Stock::named(text).map_or_else(|| Ok(Stock::sheet(text, size(option, text)?)), Ok)
}

/// The job's stocks with another size, other margins, or both.
fn stocks(job: &Job, o: &JobOptions) -> Result<Vec<Stock>, Failure> {
    let mut stocks = job.stocks.clone();
    if let Some(text) = &o.sheet {
        let margins = stocks.first().map(|s| s.margins);
        let mut stock = stock("--sheet", text)?;
        if let Some(margins) = margins {
            stock.margins = margins;
        }
        stocks = vec![stock];
    }
    if let Some(text) = &o.margin {
        let side = length("--margin", text)?;
        for stock in &mut stocks {
            stock.margins = Margins::all(side);
        }
    }
    Ok(stocks)
}

/// Garments by their names; none of them may be "none".
pub(crate) fn named_garments(names: &[String]) -> Result<Vec<Garment>, Failure> {
    let named = names.iter().map(|name| {
        named_garment(name)?.ok_or_else(|| Failure::usage("none is no garment".to_owned()))
    });
    named.collect()
}

fn named_garment(name: &str) -> Result<Option<Garment>, Failure> {
    if name == "none" {
        return Ok(None);
    }
    Garment::named(name).map(Some).ok_or_else(|| {
        let known = Garment::names().join(", ");
        Failure::usage(format!("there is no garment \"{name}\"; known are none, {known}"))
    })
}

fn crop(text: &str) -> Result<Crop, Failure> {
    let parts = numbers(text).map(|[x, y, width, height]| Crop { x, y, width, height });
    parts.ok_or_else(|| {
        Failure::usage(format!("--crop takes x,y,width,height in pixels, not \"{text}\""))
    })
}

/// So many numbers with commas between; none where there are more or fewer, or one is none.
pub(crate) fn numbers<T: std::str::FromStr, const N: usize>(text: &str) -> Option<[T; N]> {
    let all = text.split(',').map(|n| n.trim().parse().ok()).collect::<Option<Vec<T>>>()?;
    all.try_into().ok()
}

/// A length that is not finite is no misuse of the command but a number that cannot be used.
pub(crate) fn length(option: &str, text: &str) -> Result<Length, Failure> {
    not_finite(option, text)?;
    parse_length(text, None).map_err(|e| Failure::usage(format!("{option}: {e}")))
}

fn size(option: &str, text: &str) -> Result<measure::Size, Failure> {
    not_finite(option, text)?;
    parse_size(text, None).map_err(|e| Failure::usage(format!("{option}: {e}")))
}

pub(crate) fn number(option: &str, text: &str) -> Result<f64, Failure> {
    text.trim()
        .parse()
        .map_err(|_| Failure::usage(format!("{option} takes a number, not \"{text}\"")))
}

fn not_finite(option: &str, text: &str) -> Result<(), Failure> {
    let lower = text.trim().to_lowercase();
    let start = lower.trim_start_matches(['-', '+']);
    if start.starts_with("nan") || start.starts_with("inf") && !start.starts_with("inch") {
        return Err(Failure::new(
            format!("{option} cannot be {text}"),
            "give a length such as 42in or 90cm",
        ));
    }
    Ok(())
}

impl From<SourceName> for Source {
    fn from(s: SourceName) -> Self {
        match s {
            SourceName::Auto => Self::Auto,
            SourceName::Clean => Self::Clean,
            SourceName::Jpeg => Self::Jpeg,
            SourceName::Hard => Self::Hard,
            SourceName::Noisy => Self::Noisy,
            SourceName::Blurred => Self::Blurred,
        }
    }
}

impl From<EdgesName> for Edges {
    fn from(e: EdgesName) -> Self {
        match e {
            EdgesName::Auto => Self::Auto,
            EdgesName::Learned => Self::Learned,
            EdgesName::Fitted => Self::Fitted,
            EdgesName::Plain => Self::Plain,
        }
    }
}

impl From<PiecesName> for Pieces {
    fn from(p: PiecesName) -> Self {
        match p {
            PiecesName::One => Self::One,
            PiecesName::Many => Self::Many,
        }
    }
}

impl From<AlignName> for Align {
    fn from(a: AlignName) -> Self {
        match a {
            AlignName::Collar => Self::Collar,
            AlignName::Middle => Self::Middle,
        }
    }
}

impl From<PaperName> for job::shop::Paper {
    fn from(p: PaperName) -> Self {
        match p {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}
