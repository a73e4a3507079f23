use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Films for one-screen garment prints: artwork in, one-bit films on sheets out.
///
/// Without a command, opens the window (on FILE, if one is given).
/// Lengths take in, mm, cm and pt, and sums such as "13in + 1/4in".
/// Exit codes: 0 done, 1 failed (one sentence and a hint on stderr), 2 bad usage;
/// check: 0 good, 1 fault, 3 not sure.
#[derive(Parser)]
#[command(name = "filmquilt", version, args_conflicts_with_subcommands = true)]
pub(crate) struct Args {
    /// A picture or a saved job to open in the window.
    pub(crate) file: Option<PathBuf>,
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
}

#[derive(Subcommand)]
pub(crate) enum Command {
    /// Write film.pdf (one page a sheet, exact scale) and plan.json; with --inks a film a screen.
    Film {
        /// A picture or a saved job.
        file: PathBuf,
        /// The folder to write into; made where it does not exist.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// Write films for each of these garments, such as tee-m,tee-xl, the artwork scaled
        /// with the garment's width, each into a folder of its name.
        #[arg(long, value_name = "NAMES", value_delimiter = ',')]
        sizes: Vec<String>,
        #[command(flatten)]
        options: JobOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Write the whole one-bit film as one picture (black = ink).
    Onebit {
        /// A picture or a saved job.
        file: PathBuf,
        /// The picture to write: .png, .tif or .tiff.
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
        #[command(flatten)]
        art: ArtOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Separate a colour picture: each ink's plate as a one-bit PNG (black = ink), and plates.json.
    Plates {
        /// A picture or a saved job.
        file: PathBuf,
        /// The folder to write into; made where it does not exist.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        #[command(flatten)]
        options: PlateOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Print plan.json: where each sheet lies and where the seams run.
    Plan {
        /// A picture (or a black-and-white region) or a saved job.
        file: PathBuf,
        #[command(flatten)]
        options: JobOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Write the demo job and its films.
    Demo {
        /// The folder to write into; made where it does not exist.
        dir: PathBuf,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Write guide.pdf: maps of the sheets and how to tape them into one film.
    Guide {
        /// A picture or a saved job.
        file: PathBuf,
        /// The folder to write into; made where it does not exist.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// The paper it is printed on.
        #[arg(long, value_enum, default_value = "letter")]
        paper: PaperName,
        #[command(flatten)]
        options: JobOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Write ticket.pdf: the whole run on paper, from screen to cost; with --inks all screens, and
    /// a ticket a screen beside it.
    Ticket {
        /// A picture or a saved job.
        file: PathBuf,
        /// The folder to write into; made where it does not exist.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// The paper it is printed on.
        #[arg(long, value_enum, default_value = "letter")]
        paper: PaperName,
        #[command(flatten)]
        shop: ShopOptions,
        #[command(flatten)]
        options: JobOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Print the shop's numbers for a job as JSON: screen, exposure, ink, cost, time; with --inks
    /// for each screen and for all.
    Reckon {
        /// A picture or a saved job.
        file: PathBuf,
        #[command(flatten)]
        shop: ShopOptions,
        #[command(flatten)]
        options: JobOptions,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// What a washed-out screen or a print shows, why, and what to do.
    Diagnose {
        /// What is seen, with commas between; the whole table where not given.
        #[arg(long, value_enum, value_delimiter = ',')]
        seen: Vec<SeenName>,
        /// Print as JSON.
        #[arg(long)]
        json: bool,
    },
    /// An exposure test strip: its film page and times, or the time that one came out with; a
    /// time by a step wedge, or for another lamp distance or film.
    Strip {
        /// Write strip.pdf, to be printed as a film, into this folder; made where it does not
        /// exist.
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
        /// The shop's own numbers, as the window keeps them in shop.json.
        #[arg(long, value_name = "FILE")]
        shop: Option<PathBuf>,
        /// The time expected to be good, in seconds.
        #[arg(long, value_name = "SECONDS", allow_hyphen_values = true)]
        guess: Option<String>,
        /// How many bands.
        #[arg(long, value_name = "NUMBER")]
        bands: Option<u32>,
        /// The film page, such as 13x19in or a4.
        #[arg(long, value_name = "SIZE")]
        sheet: Option<String>,
        /// The first band whose solid areas held, counted from 1.
        #[arg(long, value_name = "BAND", requires = "open")]
        held: Option<usize>,
        /// The last band whose fine gaps opened.
        #[arg(long, value_name = "BAND", requires = "held")]
        open: Option<usize>,
        /// A step wedge exposed for so many seconds, and the last step of it that held: 240,6.
        #[arg(long, value_name = "SECONDS,STEP", conflicts_with = "held")]
        wedge: Option<String>,
        /// The shop's time with the lamp this far away; for lamps small beside it, not for panels.
        #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, conflicts_with_all = ["held", "wedge"])]
        distance: Option<String>,
        /// The shop's time through clear film of this density in the lamp's light.
        #[arg(long, value_name = "DENSITY", allow_hyphen_values = true, conflicts_with_all = ["held", "wedge"])]
        clear: Option<String>,
        /// Print as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Find what the film printer does to lengths and edges, for films that undo it.
    #[command(subcommand)]
    Calibrate(Calibrate),
    /// Check an export by reading it back, or a taped film or a washed-out screen by a photo.
    Check {
        /// The folder with film.pdf and plan.json.
        dir: PathBuf,
        /// A photo of the whole taped film on a light surface.
        #[arg(long, value_name = "PICTURE")]
        photo: Option<PathBuf>,
        /// Which film the photo shows, by its file's name, where there is one a screen.
        #[arg(long, value_name = "NAME", requires = "photo")]
        film: Option<String>,
        /// The photo shows the washed-out screen, held against an even light, not the film.
        #[arg(long, requires = "photo")]
        screen: bool,
        /// Where the photo shows the film's corners, in its pixels: top left, top right,
        /// bottom right and bottom left as the film is planned.
        #[arg(long, value_name = "X,Y,X,Y,X,Y,X,Y", requires = "photo")]
        corners: Option<String>,
        /// Print what was found as JSON.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        quiet: Quiet,
    },
    /// Print shell completions.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

#[derive(Subcommand)]
pub(crate) enum Calibrate {
    /// Write the page to print and measure; with --printer, the page that confirms a profile.
    Page {
        /// The PDF to write.
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
        #[command(flatten)]
        sheet: CalibrationSheet,
    },
    /// Turn what was read from the printed page into a profile, and say how far off films are.
    Read {
        /// The profile to write.
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
        #[command(flatten)]
        sheet: CalibrationSheet,
        #[command(flatten)]
        readings: ReadingOptions,
    },
}

/// The sheet a calibration page is made for.
#[derive(ClapArgs)]
pub(crate) struct CalibrationSheet {
    /// Film sheet: a size such as 13x19in or 329x483mm, or a name (a4, a3, letter, tabloid ...).
    #[arg(long, value_name = "SIZE", default_value = "13x19in")]
    pub(crate) sheet: String,
    /// Unprintable margin on every side of the sheet.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) margin: Option<String>,
    /// The profile the page is, or was, drawn for.
    #[arg(long, value_name = "FILE")]
    pub(crate) printer: Option<PathBuf>,
    /// What the shop calls the printer.
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// What the shop calls the film.
    #[arg(long, value_name = "NAME")]
    pub(crate) film: Option<String>,
}

/// What was read from a calibration page, lengths with their units.
#[derive(ClapArgs)]
pub(crate) struct ReadingOptions {
    /// A length across: A to C, D to F or G to I. Give up to three.
    #[arg(long, value_name = "LENGTH", required = true, allow_hyphen_values = true)]
    pub(crate) across: Vec<String>,
    /// A length down: A to G, B to H or C to I. Give up to three.
    #[arg(long, value_name = "LENGTH", required = true, allow_hyphen_values = true)]
    pub(crate) down: Vec<String>,
    /// The falling diagonal, A to I.
    #[arg(long, value_name = "LENGTH", requires = "rising", allow_hyphen_values = true)]
    pub(crate) falling: Option<String>,
    /// The rising diagonal, G to C.
    #[arg(long, value_name = "LENGTH", requires = "falling", allow_hyphen_values = true)]
    pub(crate) rising: Option<String>,
    /// The narrowest gap that is open all along.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) gap: Option<String>,
    /// The narrowest line that is whole.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) line: Option<String>,
    /// The densities of the eleven patches, from clear film to solid ink, with commas between.
    #[arg(long, value_name = "D,D,...", allow_hyphen_values = true)]
    pub(crate) densities: Option<String>,
}

/// How the artwork becomes one-bit film.
#[derive(ClapArgs, Default)]
pub(crate) struct ArtOptions {
    /// Width of the (cropped) artwork on the garment, such as 42in or 90cm.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) width: Option<String>,
    /// Turn the artwork clockwise about its middle, such as 15deg; -15deg is anticlockwise.
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    pub(crate) turn: Option<String>,
    /// Film resolution in pixels per inch.
    #[arg(long, value_name = "PPI", allow_hyphen_values = true)]
    pub(crate) ppi: Option<String>,
    /// Where grey is cut: a share of ink from 0 to 1, auto, or local (follows uneven light).
    #[arg(long, value_name = "LEVEL", allow_hyphen_values = true)]
    pub(crate) cut: Option<String>,
    /// Exchange black and white.
    #[arg(long)]
    pub(crate) invert: bool,
    /// Part of the picture to use, in its pixels: x,y,width,height.
    #[arg(long, value_name = "X,Y,W,H")]
    pub(crate) crop: Option<String>,
    /// What the picture has been through.
    #[arg(long, value_enum)]
    pub(crate) source: Option<SourceName>,
    /// How edges are made.
    #[arg(long, value_enum)]
    pub(crate) edges: Option<EdgesName>,
    /// Clean specks and pinholes smaller than this many source pixels of area.
    #[arg(long, value_name = "AREA", allow_hyphen_values = true)]
    pub(crate) specks: Option<String>,
    /// Flatten paper tone and uneven light first, as in a photograph of a drawing.
    #[arg(long)]
    pub(crate) flatten: bool,
    /// Widen every line of ink and every gap that is finer than this on the film, such as 0.3mm.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) mend: Option<String>,
    #[command(flatten)]
    pub(crate) tone: ToneOptions,
}

/// How tone becomes ink or none.
#[derive(ClapArgs, Default)]
pub(crate) struct ToneOptions {
    /// How grey becomes ink or none: a share of ink of 1 - value / 255.
    #[arg(long, value_enum)]
    pub(crate) tone: Option<ToneName>,
    /// Dots: lines of dots per inch, such as 25lpi.
    #[arg(long, value_name = "RULING", allow_hyphen_values = true)]
    pub(crate) ruling: Option<String>,
    /// Dots: how far their lines are turned, such as 22.5deg.
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    pub(crate) angle: Option<String>,
    /// Dots: their shape.
    #[arg(long, value_enum)]
    pub(crate) dot: Option<DotName>,
    /// Noise and diffusion: how large a grain is, such as 0.25mm.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) grain: Option<String>,
    /// Tone: keep hard edges as they are, with dots only where the picture is tone.
    #[arg(long)]
    pub(crate) mixed: bool,
    /// Dots: how wide the smallest is that the screen holds, such as 0.4mm.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) smallest_dot: Option<String>,
    /// Tone: a printed wedge's densities as JSON, {"solid": 1.2, "n": 1, "steps": [[0.5, 0.41]]}:
    /// share on film, density above the bare garment.
    #[arg(long, value_name = "FILE")]
    pub(crate) gain: Option<PathBuf>,
}

/// Which inks a colour picture is separated into, and how they meet.
#[derive(ClapArgs, Default)]
pub(crate) struct InkOptions {
    /// The inks: auto, at most so many (auto:3), or a JSON file with a list of {"colour", "name"}.
    #[arg(long, value_name = "INKS")]
    pub(crate) inks: Option<String>,
    /// The garment's colour, left open, as #rrggbb; that of the picture's rim where not given.
    #[arg(long, value_name = "COLOUR")]
    pub(crate) garment_colour: Option<String>,
    /// How far lighter inks spread under darker ones.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) trap: Option<String>,
    /// White under all inks, drawn in from the open garment by so much, such as 0.35mm.
    #[arg(long, value_name = "CHOKE", allow_hyphen_values = true)]
    pub(crate) underbase: Option<String>,
    /// Whether all screens' films share one sheet plan, or each has the fewest sheets of its own.
    #[arg(long, value_enum)]
    pub(crate) plans: Option<PlansName>,
}

/// How a colour picture becomes plates.
#[derive(ClapArgs)]
pub(crate) struct PlateOptions {
    /// Width of the (cropped) artwork on the garment, such as 10.24in.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) width: Option<String>,
    /// Turn the artwork clockwise about its middle, such as 15deg; -15deg is anticlockwise.
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    pub(crate) turn: Option<String>,
    /// Film resolution in pixels per inch.
    #[arg(long, value_name = "PPI", allow_hyphen_values = true)]
    pub(crate) ppi: Option<String>,
    /// Part of the picture to use, in its pixels: x,y,width,height.
    #[arg(long, value_name = "X,Y,W,H")]
    pub(crate) crop: Option<String>,
    /// What the picture has been through.
    #[arg(long, value_enum)]
    pub(crate) source: Option<SourceName>,
    #[command(flatten)]
    pub(crate) tone: ToneOptions,
    #[command(flatten)]
    pub(crate) inks: InkOptions,
}

/// The whole job's numbers.
#[derive(ClapArgs)]
pub(crate) struct JobOptions {
    #[command(flatten)]
    pub(crate) art: ArtOptions,
    #[command(flatten)]
    pub(crate) inks: InkOptions,
    /// Film sheet: a size such as 13x19in or 329x483mm, or a name (a4, a3, letter, tabloid ...).
    #[arg(long, value_name = "SIZE")]
    pub(crate) sheet: Option<String>,
    /// Unprintable margin on every side of a sheet.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) margin: Option<String>,
    /// Least overlap where two sheets meet.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) overlap: Option<String>,
    /// Dot each sheet's trim lines on it, where the film is clear.
    #[arg(long)]
    pub(crate) trim_lines: bool,
    /// Marks to punch for register pins, outside the print: each how far right of the artwork's
    /// middle and above its top edge, such as "-8in,1in; 8in,1in".
    #[arg(long, value_name = "X,Y; ...", allow_hyphen_values = true)]
    pub(crate) pin_marks: Option<String>,
    /// Corner marks to tape films to their frames by, so far outside the artwork.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) tape_marks: Option<String>,
    /// A profile of the film printer, by "calibrate read": films undo its scale, lean and spread.
    #[arg(long, value_name = "FILE")]
    pub(crate) printer: Option<PathBuf>,
    /// The garment under the print, such as tee-2xl, or none to cover all the ink.
    #[arg(long, value_name = "NAME")]
    pub(crate) garment: Option<String>,
    /// Other sizes that the same screen prints, such as tee-m,tee-xl.
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    pub(crate) also: Vec<String>,
    /// What stays in place when the garment's size changes.
    #[arg(long, value_enum)]
    pub(crate) align: Option<AlignName>,
    /// How far the print runs off the garment's edge.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) bleed: Option<String>,
    /// Clear film kept around the ink.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) surround: Option<String>,
    /// Whether the film hangs together or separate motifs may be separate pieces.
    #[arg(long, value_enum)]
    pub(crate) pieces: Option<PiecesName>,
}

/// The shop's side of a job.
#[derive(ClapArgs)]
pub(crate) struct ShopOptions {
    /// The shop's own numbers, as the window keeps them in shop.json; usual ones where not given.
    #[arg(long, value_name = "FILE")]
    pub(crate) shop: Option<PathBuf>,
    /// The shop's notebook, as the window keeps it in notebook.jsonl: what was noted there
    /// stands in for the shop's numbers.
    #[arg(long, value_name = "FILE")]
    pub(crate) notebook: Option<PathBuf>,
    /// How many garments are wanted; as in shop.json, or 25.
    #[arg(long, value_name = "NUMBER")]
    pub(crate) quantity: Option<u32>,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum AlignName {
    /// The collar.
    Collar,
    /// The garment's middle.
    Middle,
}

#[derive(Clone, Copy, PartialEq, ValueEnum)]
pub(crate) enum SeenName {
    /// Coating that should stay washed away or went slimy.
    Soft,
    /// Fine gaps stayed closed.
    Closed,
    /// Only the film's overlaps went soft.
    Seams,
    /// Middle and corners differ.
    Uneven,
    /// Small holes in closed areas.
    Pinholes,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum PaperName {
    /// 210 x 297 mm.
    A4,
    /// 8.5 x 11 in.
    Letter,
}

#[derive(ClapArgs)]
pub(crate) struct Quiet {
    /// Show no progress bar.
    #[arg(long)]
    pub(crate) quiet: bool,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum SourceName {
    /// Look at the picture and decide.
    Auto,
    /// Anti-aliased and undamaged.
    Clean,
    /// Damaged by JPEG.
    Jpeg,
    /// Hard one-bit pixels.
    Hard,
    /// Noisy, such as a scan.
    Noisy,
    /// Blurred.
    Blurred,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum EdgesName {
    /// The best way for this picture.
    Auto,
    /// By the learned model.
    Learned,
    /// By the coverage-constrained level set.
    Fitted,
    /// By cubic interpolation alone.
    Plain,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum ToneName {
    /// Ink or none at the cut level, with crisp edges.
    Cut,
    /// Dots on a lattice.
    Dots,
    /// Grains scattered evenly.
    Noise,
    /// Error diffusion.
    Diffuse,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum DotName {
    /// Round.
    Round,
    /// Longer than wide.
    Elliptical,
    /// Lines that swell.
    Line,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum PlansName {
    /// One plan for what any screen prints.
    Shared,
    /// The fewest sheets for each screen.
    Own,
}

#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum PiecesName {
    /// One taped film.
    One,
    /// Separate pieces are allowed.
    Many,
}
