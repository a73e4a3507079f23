//! Files that were changed at random: whatever comes in, there is an answer or one sentence, and
//! never a panic. Here for a moment each; for as long as `FILMQUILT_FUZZ_SECS` says, from the
//! random numbers that `FILMQUILT_FUZZ_SEED` begins, when that is wished. An input that fails is
//! kept in `target/fuzz`; once mended, it goes to `tests/fuzz` and is tried every time.

use crate::util::{folder, root};
use job::{InkMap, Job, build};
use measure::Resolution;
use progress::Progress;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

#[test]
fn pictures() {
    let formats = [
        image::ImageFormat::Png,
        image::ImageFormat::Jpeg,
        image::ImageFormat::Bmp,
        image::ImageFormat::Gif,
        image::ImageFormat::Tiff,
        image::ImageFormat::WebP,
    ];
    let small = image::RgbImage::from_fn(37, 23, |x, y| {
        image::Rgb([(x * 7) as u8, (y * 11) as u8, if (x / 5 + y / 4) % 2 == 0 { 0 } else { 255 }])
    });
    let grey = image::DynamicImage::ImageRgb8(small.clone()).to_luma8();
    let mut corpus: Vec<Vec<u8>> = Vec::new();
    for format in formats {
        for picture in [image::DynamicImage::from(small.clone()), grey.clone().into()] {
            let mut bytes = std::io::Cursor::new(Vec::new());
            // Not every format has every kind of pixel.
            if picture.write_to(&mut bytes, format).is_ok() {
                corpus.push(bytes.into_inner());
            }
        }
    }
    assert!(corpus.len() >= formats.len());
    corpus.push(std::fs::read(root().join("assets/demo/lantern-moth.svg")).expect("the demo"));
    corpus.push(
        br##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30" viewBox="0 0 9 9">
        <defs><path id="a" d="M1 1L8 2Q4 8 1 1z"/></defs><g transform="rotate(9)"><use href="#a"
        x="1" fill="#123" stroke="red" stroke-width=".3"/><circle cx="4" cy="4" r="2"/></g></svg>"##
            .to_vec(),
    );
    fuzz("pictures", corpus, |bytes| {
        let _ = artwork::load(&with_right_sums(bytes));
    });
}

#[test]
fn jobs() {
    let mut jobs = vec![job::demo(), small_job()];
    let garment = garment::Garment::named("tee-2xl");
    jobs.push(Job { garment, pinned: Vec::new(), ..small_job() });
    let corpus = jobs.iter().map(|job| job::file::to_bytes(job).expect("a job")).collect();
    fuzz("jobs", corpus, |bytes| {
        let _ = job::file::from_bytes(bytes, Path::new("x.quilt"));
        let _ = job::file::from_bytes(&with_right_sums(bytes), Path::new("x.quilt"));
    });
}

/// Jobs whose numbers are anything at all, planned.
#[test]
fn plans() {
    let mut printer = job::Profile::true_to_size("a", "b");
    (printer.scale_x, printer.shear) = (0.99, 0.004);
    let garment = garment::Garment::named("tee-2xl");
    let jobs = [small_job(), Job { garment, printer: Some(printer), ..small_job() }];
    let corpus = jobs.iter().map(|job| serde_json::to_vec(job).expect("JSON")).collect();
    let bits = bitmap::Bitmap::from_fn(300, 200, |x, y| (x / 60 + y / 50) % 2 == 0);
    fuzz("plans", corpus, |bytes| {
        let Ok(job) = serde_json::from_slice::<Job>(bytes) else { return };
        if job.check().is_err() {
            return;
        }
        // The film's own size follows from the job's width, as in a build.
        let ppi = 300.0 / job.width.to_inches();
        let Ok(ink) = InkMap::of(&bits, Resolution::ppi(ppi), &Progress::none()) else { return };
        let _ = build::layout(&job, &ink, 2000, &Progress::none());
    });
}

/// Films and plans, read back by what proves them and by what puts them together.
#[test]
fn exports() {
    let good = folder();
    build::export(&small_job(), good.path(), &Progress::none()).expect("an export");
    let noisy = Job { tone: job::Tone::Noise { grain: measure::Length::mm(1.0) }, ..small_job() };
    let other = folder();
    build::export(&noisy, other.path(), &Progress::none()).expect("an export");
    let read = |dir: &Path, name: &str| std::fs::read(dir.join(name)).expect("a file");
    let corpus = [good.path(), other.path()]
        .iter()
        .flat_map(|dir| [read(dir, "film.pdf"), read(dir, "plan.json")])
        .collect();
    let trial = folder();
    let fine = ["film.pdf", "plan.json"].map(|name| (name, read(good.path(), name)));
    fuzz("exports", corpus, |bytes| {
        let which = usize::from(bytes.first() == Some(&b'{'));
        for (n, (name, fine)) in fine.iter().enumerate() {
            let content = if n == which { bytes } else { fine };
            std::fs::write(trial.path().join(name), content).expect("written");
        }
        let _ = film::prove(trial.path(), "film.pdf", None, &Progress::none());
        let _ = film::read_film(trial.path(), Some("film.pdf"), &Progress::none());
    });
}

#[test]
fn printers() {
    let mut profile = job::Profile::true_to_size("Wide", "Clear");
    profile.finest_line = Some(measure::Length::mm(0.1));
    let corpus = vec![serde_json::to_vec_pretty(&profile).expect("JSON")];
    let dir = folder();
    let path = dir.path().join("x.printer");
    fuzz("printers", corpus, |bytes| {
        std::fs::write(&path, bytes).expect("written");
        let Ok(profile) = job::calibrate::open(&path) else { return };
        if let Some(stock) = sheets::Stock::named("a3")
            && let Ok(target) = job::calibrate::target(&stock)
        {
            film::write_calibration(&target, &profile, &mut Vec::new()).expect("a page");
        }
    });
}

/// A job whose film is made in no time.
fn small_job() -> Job {
    Job {
        width: measure::Length::inches(6.0),
        resolution: Resolution::ppi(30.0),
        stocks: vec![sheets::Stock::sheet(
            "small",
            measure::Size::new(measure::Length::mm(90.0), measure::Length::mm(120.0)),
        )],
        overlap: measure::Length::mm(6.0),
        art: artwork::Settings { edges: artwork::Edges::Plain, ..artwork::Settings::default() },
        picture: job::demo().picture,
        ..Job::default()
    }
}

/// What takes longer hangs, on however busy a machine.
const HUNG: Duration = Duration::from_secs(120);

/// Feeds changed inputs until the time is over. The answer is not looked at; a panic, or more
/// than [`HUNG`], is a failure.
fn fuzz(name: &str, corpus: Vec<Vec<u8>>, feed: impl Fn(&[u8])) {
    let secs = std::env::var("FILMQUILT_FUZZ_SECS").ok().and_then(|s| s.parse().ok());
    let seed = std::env::var("FILMQUILT_FUZZ_SEED").ok().and_then(|s| s.parse().ok());
    let (until, start) = (Duration::from_secs_f64(secs.unwrap_or(1.5)), Instant::now());
    let kept = root().join("target/fuzz");
    let mut dice = Dice(seed.unwrap_or(1_u64) ^ 0x9E37_79B9_7F4A_7C15);
    let (mut count, mut failed, mut slowest) = (0_u64, Vec::new(), Duration::ZERO);
    for known in known(name) {
        feed(&known);
    }
    // The corpus grows by what was changed before, so that changes pile up.
    let (mut pool, fresh) = (corpus.clone(), corpus.len());
    while start.elapsed() < until && failed.len() < 20 {
        let input = dice.changed(&pool);
        let from = Instant::now();
        let bad = catch_unwind(AssertUnwindSafe(|| feed(&input))).is_err();
        let took = from.elapsed();
        slowest = slowest.max(took);
        if bad || took > HUNG {
            std::fs::create_dir_all(&kept).expect("target/fuzz");
            let path = kept.join(format!("{name}-{}-{count}", dice.0));
            std::fs::write(&path, &input).expect("kept");
            failed.push((path, took));
        } else if input.len() < 1 << 20 && dice.below(8) == 0 {
            if pool.len() < fresh + 64 {
                pool.push(input);
            } else {
                pool[fresh + dice.below(64)] = input;
            }
        }
        count += 1;
    }
    println!(
        "{name}: {count} inputs in {:.0} s, slowest {slowest:?}",
        start.elapsed().as_secs_f64()
    );
    assert!(failed.is_empty(), "{name} failed on {failed:?}");
    assert!(count > 0);
}

/// Inputs that failed once.
fn known(name: &str) -> Vec<Vec<u8>> {
    let entries = std::fs::read_dir(root().join("tests/fuzz")).into_iter().flatten();
    let mut paths: Vec<_> = entries.map(|entry| entry.expect("an entry").path()).collect();
    paths.retain(|p| p.file_name().is_some_and(|n| n.to_string_lossy().starts_with(name)));
    paths.sort();
    paths.iter().map(|path| std::fs::read(path).expect("a known input")).collect()
}

/// Random numbers: xorshift64* (Vigna 2016, doi:10.1145/2845077).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() >> 16) as usize % n.max(1)
    }

    /// A number under 2 to the power of `bits`, small ones more often.
    fn few(&mut self, bits: usize) -> usize {
        let most = 1 << self.below(bits);
        self.below(most)
    }

    /// One of the pool with a few changes.
    fn changed(&mut self, pool: &[Vec<u8>]) -> Vec<u8> {
        let mut out = pool[self.below(pool.len())].clone();
        for _ in 0..=self.few(5) {
            self.change(&mut out, pool);
        }
        out
    }

    fn change(&mut self, out: &mut Vec<u8>, pool: &[Vec<u8>]) {
        let at = self.below(out.len());
        let long = 1 + self.few(8);
        let end = (at + long).min(out.len());
        match self.below(10) {
            0 if !out.is_empty() => out[at] ^= 1 << self.below(8),
            1 if !out.is_empty() => out[at] = self.next() as u8,
            2 => out.truncate(at),
            3 => drop(out.drain(at..end)),
            4 => {
                let bytes: Vec<u8> = (0..long).map(|_| self.next() as u8).collect();
                out.splice(at..at, bytes);
            }
            5 => {
                let part = out[at..end].to_vec();
                let to = self.below(out.len());
                out.splice(to..to, part);
            }
            6 => {
                let other = &pool[self.below(pool.len())];
                let from = self.below(other.len());
                let upto = (from + long).min(other.len());
                out.splice(at..end, other[from..upto].iter().copied());
            }
            7 => {
                // A whole number of one, two or four bytes that sits on some limit.
                let number =
                    [0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFF_FFFF, u32::MAX]
                        [self.below(10)];
                let size = 1 << self.below(3);
                let bytes: Vec<u8> = match self.below(2) {
                    0 => number.to_le_bytes()[..size].to_vec(),
                    _ => number.to_be_bytes()[4 - size..].to_vec(),
                };
                let end = (at + size).min(out.len());
                out.splice(at..end, bytes);
            }
            _ => self.change_number(out, at),
        }
    }

    /// Puts another number in the place of the first that is written in digits.
    fn change_number(&mut self, out: &mut Vec<u8>, from: usize) {
        const OTHERS: [&str; 16] = [
            "0",
            "-1",
            "1e308",
            "-1e308",
            "1e-308",
            "NaN",
            "4294967295",
            "4294967296",
            "65536",
            "9223372036854775807",
            "-9223372036854775808",
            "0.1",
            "1000000",
            "2147483648",
            "null",
            "3",
        ];
        let digit = |b: &u8| b.is_ascii_digit();
        let Some(start) = out[from..].iter().position(digit).map(|n| n + from) else { return };
        let number = |b: &u8| digit(b) || matches!(b, b'.' | b'e' | b'-' | b'+');
        let end = out[start..].iter().position(|b| !number(b)).map_or(out.len(), |n| n + start);
        let other = OTHERS[self.below(OTHERS.len())];
        out.splice(start..end, other.bytes());
    }
}

/// The same bytes with the checksums of PNG chunks and stored zip entries made right, so that
/// changes reach what lies behind them.
fn with_right_sums(bytes: &[u8]) -> Vec<u8> {
    let mut out = bytes.to_vec();
    if out.starts_with(b"\x89PNG\r\n\x1a\n") {
        let mut at = 8;
        while let Some(size) = out.get(at..at + 4).and_then(|b| b.try_into().ok()) {
            let end = at + 8 + u32::from_be_bytes(size) as usize;
            if end + 4 > out.len() {
                break;
            }
            let sum = crc32(&out[at + 4..end]).to_be_bytes();
            out[end..end + 4].copy_from_slice(&sum);
            at = end + 4;
        }
    } else if out.starts_with(b"PK\x03\x04") {
        right_zip_sums(&mut out);
    }
    out
}

/// Local headers with sizes known, and the central directory's copies of their sums (PKWARE
/// APPNOTE 4.3.7 and 4.3.12).
fn right_zip_sums(out: &mut [u8]) {
    let half =
        |out: &[u8], at: usize| out.get(at..at + 2).map(|b| u16::from_le_bytes([b[0], b[1]]));
    let word = |out: &[u8], at: usize| {
        out.get(at..at + 4).and_then(|b| b.try_into().ok()).map(u32::from_le_bytes)
    };
    for at in 0..out.len().saturating_sub(46) {
        if out[at..].starts_with(b"PK\x01\x02")
            && let Some(local) = word(out, at + 42).map(|n| n as usize)
            && let (Some(size), Some(name), Some(extra)) =
                (word(out, local + 18), half(out, local + 26), half(out, local + 28))
        {
            let from = local + 30 + usize::from(name) + usize::from(extra);
            let Some(data) = out.get(from..from + size as usize) else { continue };
            let sum = crc32(data).to_le_bytes();
            out[local + 14..local + 18].copy_from_slice(&sum);
            out[at + 16..at + 20].copy_from_slice(&sum);
        }
    }
}

/// The CRC-32 of zip and PNG (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8)
            .fold(crc ^ u32::from(*byte), |c, _| c >> 1 ^ (0xEDB8_8320 & 0_u32.wrapping_sub(c & 1)))
    })
}
