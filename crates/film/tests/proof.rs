//! An export is read back and proved; every way of spoiling it that we could think of is
//! noticed and named.

#![allow(clippy::unwrap_used, reason = "a test that fails says where")]

use bitmap::{Bitmap, Raster};
use film::{FilmJob, FilmSheet, PlanFile, Plans, PxRect, Seam, Together, export, prove};
use lopdf::{Document, Object};
use measure::{Length, Point, Resolution, Size};
use progress::Progress;
use std::fs;
use std::path::Path;

/// Two rows of two sheets of 4 x 6 in at 100 ppi, the lower row lying the other way, half an
/// inch over each other. The art is lines on the left and, on the right, dots without order,
/// so that both ways of packing pages are met.
fn sheets() -> Vec<FilmSheet> {
    let sheet = |name: &str, image, turned| FilmSheet {
        name: name.into(),
        image,
        turned,
        page: Size::new(Length::inches(4.0), Length::inches(6.0)),
        printable: PxRect::new(10, 10, 380, 580),
        image_x: 10,
        image_y: 10,
    };
    vec![
        sheet("A1", PxRect::new(0, 0, 380, 560), false),
        sheet("A2", PxRect::new(330, 0, 370, 580), false),
        sheet("B1", PxRect::new(0, 510, 580, 340), true),
        sheet("B2", PxRect::new(500, 530, 200, 320), false),
    ]
}

fn art() -> Bitmap {
    let speck = |x: u32, y: u32| {
        let h =
            (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)).wrapping_mul(0xC2B2_AE3D);
        (h ^ h >> 13) >> 20 & 1 == 1
    };
    Bitmap::from_fn(700, 850, |x, y| {
        if x < 380 {
            (x * x + y * y) / 30_000 % 2 == 1 && (40..800).contains(&y)
        } else {
            (420..690).contains(&x) && (50..480).contains(&y) && speck(x, y)
        }
    })
}

fn exported(folder: &Path, job: FilmJob) -> PlanFile {
    let mut files = Together::begin(folder, &["film.pdf", "plan.json"]).unwrap();
    let plans = export(&mut files, &["film.pdf"], &[job], &Progress::none()).unwrap();
    files.appear().unwrap();
    plans.all()[0].clone()
}

fn write(folder: &Path, art: &Bitmap) -> PlanFile {
    let job = FilmJob {
        raster: art,
        resolution: Resolution::ppi(100.0),
        title: "Nachtmarkt, R\u{fc}cken",
        sheets: sheets(),
        seams: Vec::new(),
        overlap: Length::inches(0.5),
        lower_bound: 4,
        trim_lines: false,
        print: None,
        screen: None,
        printer: None,
    };
    exported(folder, job)
}

/// The same with trim lines along seams in the middle of the overlaps, one of them bent.
fn write_trimmed(folder: &Path, art: &Bitmap) -> PlanFile {
    let resolution = Resolution::ppi(100.0);
    let seam = |a: &str, b: &str, points: &[(f64, f64)]| Seam {
        between: [a.into(), b.into()],
        points: points
            .iter()
            .map(|(x, y)| Point::new(resolution.length(*x), resolution.length(*y)))
            .collect(),
    };
    let job = FilmJob {
        raster: art,
        resolution,
        title: "Nachtmarkt",
        sheets: sheets(),
        seams: vec![
            seam("A1", "A2", &[(355.0, 0.0), (340.0, 200.0), (370.0, 400.0), (355.0, 535.0)]),
            seam("A1", "B1", &[(0.0, 535.0), (355.0, 535.0)]),
            seam("B1", "B2", &[(540.0, 555.0), (540.0, 850.0)]),
        ],
        overlap: Length::inches(0.5),
        lower_bound: 4,
        trim_lines: true,
        print: None,
        screen: None,
        printer: None,
    };
    exported(folder, job)
}

/// The faults found, as `sheet: what`.
fn faults(folder: &Path, film: Option<&dyn Raster>) -> Vec<String> {
    let proof = prove(folder, "film.pdf", film, &Progress::none()).unwrap();
    let say =
        |f: film::Fault| f.sheet.map_or(f.what.clone(), |sheet| format!("{sheet}: {}", f.what));
    proof.faults.into_iter().map(say).collect()
}

#[test]
fn what_was_written_is_proved_with_and_without_the_film() {
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    let plan = write(folder.path(), &art);
    assert!(plan.fewest_proved);
    assert_eq!(Plans::read(folder.path()).unwrap().all(), std::slice::from_ref(&plan));
    for kind in ["tick", "name"] {
        assert!(plan.marks.iter().any(|mark| mark.kind == kind), "no {kind} over an image");
    }
    let pdf = Document::load(folder.path().join("film.pdf")).unwrap();
    let filters = |name: &[u8]| {
        let of = |o: &Object| {
            o.as_stream().ok()?.dict.get(b"Filter").ok()?.as_name().ok().map(<[u8]>::to_vec)
        };
        pdf.objects.values().filter_map(of).filter(|f| f == name).count()
    };
    assert!(filters(b"CCITTFaxDecode") > 4 && filters(b"FlateDecode") > 4);
    assert_eq!(faults(folder.path(), Some(&art)), [""; 0]);
    assert_eq!(faults(folder.path(), None), [""; 0]);
}

#[test]
fn the_same_job_gives_the_same_bytes_on_any_number_of_threads() {
    let art = art();
    let bytes = |threads| {
        let folder = tempfile::tempdir().unwrap();
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| write(folder.path(), &art));
        (
            fs::read(folder.path().join("film.pdf")).unwrap(),
            fs::read(folder.path().join("plan.json")).unwrap(),
        )
    };
    let once = bytes(1);
    assert!(once == bytes(3) && once == bytes(7));
}

/// The page numbered `n`, its content and its film image's number.
fn page(doc: &Document, n: u32) -> (lopdf::ObjectId, lopdf::ObjectId, lopdf::ObjectId) {
    let page = doc.get_pages()[&n];
    let dict = doc.get_dictionary(page).unwrap();
    let content = dict.get(b"Contents").unwrap().as_reference().unwrap();
    let images = dict.get(b"Resources").unwrap().as_dict().unwrap().get(b"XObject").unwrap();
    (page, content, images.as_dict().unwrap().get(b"Film").unwrap().as_reference().unwrap())
}

/// Changes the numbers of the first `cm` of a page, which places the film's image.
fn replace_place(doc: &mut Document, n: u32, change: impl Fn(&mut [f32; 6])) {
    let content = page(doc, n).1;
    let stream = doc.get_object_mut(content).unwrap().as_stream_mut().unwrap();
    let text = String::from_utf8(stream.decompressed_content().unwrap()).unwrap();
    let place = text.lines().find(|line| line.ends_with(" cm")).unwrap().to_owned();
    let numbers: Vec<f32> = place.split(' ').filter_map(|n| n.parse().ok()).collect();
    let mut numbers: [f32; 6] = numbers.try_into().unwrap();
    change(&mut numbers);
    let changed = numbers.map(|n| n.to_string()).join(" ") + " cm";
    stream.set_plain_content(text.replacen(&place, &changed, 1).into_bytes());
}

#[test]
fn every_spoilt_export_is_caught() {
    type Spoil = fn(&mut Document);
    let cases: [(&str, Spoil, &str); 13] = [
        (
            "scaling left to the viewer",
            |doc| {
                doc.catalog_mut().unwrap().remove(b"ViewerPreferences");
            },
            "film.pdf lets viewers scale it when printing",
        ),
        (
            "a page missing",
            |doc| {
                doc.delete_pages(&[4]);
            },
            "film.pdf has 3 pages, and the plan 4 sheets",
        ),
        (
            "two pages swapped",
            |doc| {
                let pages = doc.catalog().unwrap().get(b"Pages").unwrap().as_reference().unwrap();
                let kids = doc.get_dictionary_mut(pages).unwrap().get_mut(b"Kids").unwrap();
                kids.as_array_mut().unwrap().swap(0, 1);
            },
            "A1: its page does not carry its name",
        ),
        (
            "an image moved by a pixel",
            |doc| replace_place(doc, 1, |m| m[4] += 0.72),
            "A1: its image stands 1, 0 pixels from its place",
        ),
        (
            "an image moved by a quarter pixel",
            |doc| replace_place(doc, 3, |m| m[5] += 0.18),
            "B1: its image is not at exact scale",
        ),
        (
            "an image scaled by a thousandth",
            |doc| replace_place(doc, 2, |m| m[3] *= 1.001),
            "A2: its image is not at exact scale",
        ),
        (
            "an image mirrored",
            |doc| {
                replace_place(doc, 1, |m| {
                    m[4] += m[0];
                    m[0] = -m[0];
                })
            },
            "A1: an image on its page is mirrored or turned",
        ),
        (
            "another page size",
            |doc| {
                let page = page(doc, 2).0;
                let media = doc.get_dictionary_mut(page).unwrap().get_mut(b"MediaBox").unwrap();
                media.as_array_mut().unwrap()[2] = Object::Real(289.0);
            },
            "A2: its page is not as large as the sheet",
        ),
        (
            "a page turned by its dictionary",
            |doc| {
                let page = page(doc, 2).0;
                doc.get_dictionary_mut(page).unwrap().set("Rotate", 90);
            },
            "A2: it has a Rotate, which films are written without",
        ),
        (
            "an image cut short",
            |doc| {
                let image = page(doc, 1).2;
                let stream = doc.get_object_mut(image).unwrap().as_stream_mut().unwrap();
                let half = stream.content.len() / 2;
                stream.set_content(stream.content[..half].to_vec());
            },
            "A1: an image on its page is damaged or breaks off",
        ),
        (
            "something drawn over the image",
            |doc| {
                let content = page(doc, 1).1;
                let stream = doc.get_object_mut(content).unwrap().as_stream_mut().unwrap();
                let mut drawn = stream.decompressed_content().unwrap();
                drawn.extend(b"0 g 100 200 3 3 re f\n");
                stream.set_plain_content(drawn);
            },
            "A1: something is drawn over its image that the plan does not list",
        ),
        (
            "the images of two sheets exchanged",
            |doc| {
                let (a, b) = (page(doc, 1).2, page(doc, 2).2);
                let first = doc.get_object(a).unwrap().clone();
                let second = doc.get_object(b).unwrap().clone();
                doc.set_object(a, second);
                doc.set_object(b, first);
            },
            "A1: its image has another number of pixels than the plan says",
        ),
        (
            "another title",
            |doc| {
                let info = doc.trailer.get(b"Info").unwrap().as_reference().unwrap();
                doc.get_dictionary_mut(info).unwrap().set("Title", Object::string_literal("other"));
            },
            "film.pdf is not the file that plan.json was written with",
        ),
    ];
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    let path = folder.path().join("film.pdf");
    for (what, spoil, expected) in cases {
        write(folder.path(), &art);
        let mut doc = Document::load(&path).unwrap();
        spoil(&mut doc);
        doc.save(&path).unwrap();
        for film in [None, Some(&art as &dyn Raster)] {
            let found = faults(folder.path(), film);
            assert!(found.iter().any(|fault| fault == expected), "{what}: {found:?}");
        }
    }
}

#[test]
fn the_first_wrong_pixel_is_named() {
    let (folder, mut art) = (tempfile::tempdir().unwrap(), art());
    write(folder.path(), &art);
    let was = art.get(123, 45);
    art.set(123, 45, !was);
    let (has, should) = if was { ("ink", "clear") } else { ("clear", "ink") };
    let expected = format!(
        "A1: pixel 123, 45 of the film (31.24 mm, 11.43 mm from its top-left corner) is {has} and should be {should}"
    );
    assert_eq!(faults(folder.path(), Some(&art)), [expected]);
}

/// A pixel changed in one sheet only, where another overlaps it: without the film, the two
/// sheets bear witness against each other.
#[test]
fn sheets_that_differ_where_they_overlap_are_caught() {
    let (folder, good, other) = (tempfile::tempdir().unwrap(), art(), tempfile::tempdir().unwrap());
    write(folder.path(), &good);
    let mut bad = good.clone();
    let (x, y) = (350, 300);
    bad.set(x, y, !good.get(x, y));
    write(other.path(), &bad);
    let path = folder.path().join("film.pdf");
    let mut doc = Document::load(&path).unwrap();
    let from = Document::load(other.path().join("film.pdf")).unwrap();
    let image = from.get_object(page(&from, 2).2).unwrap().clone();
    let at = page(&doc, 2).2;
    doc.set_object(at, image);
    doc.save(&path).unwrap();
    let found = faults(folder.path(), None);
    assert!(found[0].starts_with("A2: pixel 350, 300 of the film (88.9 mm, 76.2 mm"), "{found:?}");
    assert!(found[0].ends_with("on sheet A1"), "{found:?}");
}

#[test]
fn a_plan_that_disagrees_is_caught() {
    type Spoil = fn(&mut PlanFile);
    let cases: [(Spoil, &str); 7] = [
        (|plan| plan.sheets[0].image_x_px += 1, "A1: its image stands -1, 0 pixels from its place"),
        (|plan| plan.sheets[1].x_mm += 1.0, "A2: the plan's millimetres are not its pixels"),
        (
            |plan| plan.sheets[2].turned = false,
            "B1: its image has another number of pixels than the plan says",
        ),
        (|plan| plan.film.ppi = 101.0, "the plan's film has millimetres that are not its pixels"),
        (|plan| plan.sheets.swap(0, 1), "A2: the plan's pages or names are out of order"),
        (
            |plan| plan.marks.retain(|mark| mark.kind != "tick"),
            "A1: a tick reaches past where the plan lists it",
        ),
        (
            |plan| plan.files[0].id = "00".into(),
            "film.pdf is not the file that plan.json was written with",
        ),
    ];
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    for (spoil, expected) in cases {
        let mut plan = write(folder.path(), &art);
        spoil(&mut plan);
        fs::write(folder.path().join("plan.json"), serde_json::to_vec(&plan).unwrap()).unwrap();
        let found = faults(folder.path(), None);
        assert!(found.iter().any(|fault| fault == expected), "{expected}: {found:?}");
    }
}

/// However a file breaks off, the proof says so and does not panic.
#[test]
fn a_file_cut_short_anywhere_is_caught() {
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    write(folder.path(), &art);
    let path = folder.path().join("film.pdf");
    let whole = fs::read(&path).unwrap();
    for part in 0..40 {
        fs::write(&path, &whole[..whole.len() * part / 40]).unwrap();
        assert!(!faults(folder.path(), None).is_empty(), "cut at {part}/40");
    }
    fs::write(folder.path().join("plan.json"), "{}").unwrap();
    let error = prove(folder.path(), "film.pdf", None, &Progress::none()).unwrap_err();
    assert!(error.to_string().contains("is no plan that Filmquilt wrote"), "{error}");
}

#[test]
fn trim_lines_are_proved_alike_on_both_sheets_and_clear_of_ink() {
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    let mut plan = write_trimmed(folder.path(), &art);
    assert_eq!(faults(folder.path(), Some(&art)), [""; 0]);
    assert_eq!(faults(folder.path(), None), [""; 0]);
    let dots: Vec<_> = plan.marks.iter().filter(|mark| mark.kind == "trim").collect();
    assert!(dots.len() >= 20, "{} dots", dots.len());
    for dot in &dots {
        let on = |other: &&&film::PlanMark| other.place() == dot.place();
        assert_eq!(dots.iter().filter(on).count(), 2, "{dot:?}");
        let at = dot.place();
        let ink = |(x, y): (i64, i64)| art.get(x as u32, y as u32);
        let pixels = (at.y..at.bottom()).flat_map(|y| (at.x..at.right()).map(move |x| (x, y)));
        assert!(!pixels.into_iter().any(ink), "{dot:?} lies over ink");
    }
    for sheet in ["A1", "A2", "B1", "B2"] {
        assert!(dots.iter().any(|dot| dot.sheet == sheet), "none on {sheet}");
    }
    // A dot that the plan does not list is unlisted drawing.
    let first = plan.marks.iter().position(|mark| mark.kind == "trim").unwrap();
    let sheet = plan.marks.remove(first).sheet;
    plan.write(&mut fs::File::create(folder.path().join("plan.json")).unwrap()).unwrap();
    let wanted = format!("{sheet}: a trim line reaches past where the plan lists it");
    assert_eq!(faults(folder.path(), Some(&art)), [wanted]);
}

#[test]
fn a_trim_line_on_one_sheet_only_is_noticed() {
    let (folder, art) = (tempfile::tempdir().unwrap(), art());
    write_trimmed(folder.path(), &art);
    let path = folder.path().join("film.pdf");
    let mut doc = Document::load(&path).unwrap();
    let content = page(&doc, 1).1;
    let stream = doc.get_object_mut(content).unwrap().as_stream_mut().unwrap();
    let text = String::from_utf8_lossy(&stream.decompressed_content().unwrap()).into_owned();
    assert!(text.contains("/Trim0 Do"), "{text}");
    stream.set_plain_content(text.replacen("/Trim0 Do", "", 1).into_bytes());
    doc.save(&path).unwrap();
    let wanted = "A2: a trim line meets none on another sheet".to_owned();
    assert!(faults(folder.path(), Some(&art)).contains(&wanted));
}

/// What a check by photo is given of the marks: two sheets' own ink around each tick.
#[test]
fn a_film_is_read_back_with_the_ticks_that_two_sheets_share() {
    let folder = tempfile::tempdir().unwrap();
    let plan = write(folder.path(), &Bitmap::new(700, 850));
    let read = film::read_film(folder.path(), None, &Progress::none()).unwrap();
    assert_eq!(read.plan, plan);
    // Of ten ticks, each listed as three boxes on two sheets, six have a third sheet near.
    assert_eq!(plan.marks.iter().filter(|mark| mark.kind == "tick").count(), 60);
    assert_eq!(read.ticks.len(), 4);
    for tick in &read.ticks {
        let [a, b] = &tick.drawn;
        let size = (tick.place.width as u32, tick.place.height as u32);
        assert!([a, b].iter().all(|drawn| (drawn.width(), drawn.height()) == size));
        // A bare cross, 21 pixels across: there is no room for verniers on so small a film.
        assert_eq!((a.count(), b), (41, a));
        let listed = |s: usize| {
            plan.marks.iter().any(|mark| {
                mark.kind == "tick"
                    && mark.sheet == plan.sheets[s].name
                    && tick.place.holds(mark.place())
            })
        };
        assert!(tick.sheets.iter().all(|s| listed(*s)));
    }
}
