use crate::marks::{Mark, Text};
use crate::pager::MARGIN;
use crate::{Paper, pages, write_strip, write_ticket};
use measure::{Angle, Length, Point, Rect, Resolution, Ruling, Size};
use shop::{
    Board, GarmentSize, JobFacts, Reckoning, Rest, ShelfFrame, ShopSettings, StripSettings, Tones,
    all_screens, plan_strip, reckon,
};

fn rect(x: f64, y: f64, w: f64, h: f64) -> Rect {
    let inch = Length::inches;
    Rect::new(Point::new(inch(x), inch(y)), Size::new(inch(w), inch(h)))
}

fn job() -> JobFacts {
    let sheet = |i: u32| rect(f64::from(i % 4) * 10.5, f64::from(i / 4) * 18.0, 10.5, 18.0);
    let garment = |name: &str, half_chest, length| GarmentSize {
        name: name.into(),
        half_chest: Length::cm(half_chest),
        length: Length::cm(length),
        outline: vec![],
        film_at: Point::new(Length::inches(-21.0), Length::inches(-2.0)),
        ink_area_m2: 0.31,
    };
    JobFacts {
        name: "Paper lanterns".into(),
        film: Size::new(Length::inches(42.0), Length::inches(36.0)),
        resolution: Resolution::ppi(300.0),
        sheets: (0..8).map(sheet).collect(),
        stock: "13 x 19 in".into(),
        overlaps: vec![rect(10.25, 0.0, 0.5, 36.0), rect(0.0, 17.75, 42.0, 0.5)],
        ink_area_m2: 0.31,
        finest: Some(Length::mm(0.5)),
        halftone: Some((Ruling::lpi(25.0), Angle::deg(22.5))),
        garments: vec![garment("L", 56.0, 75.0), garment("2XL", 66.0, 81.0)],
        quantity: 20,
        screen: 1,
        screens: 1,
        tones: Tones { columns: 3, inked: vec![0.0, 1.0, 0.5, 1.0, 0.1, 0.0] },
    }
}

fn plans() -> Vec<Reckoning> {
    let mut busy = ShopSettings::default();
    busy.parts.rest = Rest::Covered;
    busy.parts.even_share = 0.9;
    busy.lamp.distance = Length::mm(300.0);
    busy.exposure.latitude = 1.1;
    busy.exposure.black_density = 2.0;
    busy.boards = vec![Board { length: Length::inches(20.0), at_hand: None, price: 0.0 }];
    busy.frames = (0..12)
        .map(|i| ShelfFrame {
            name: format!("a frame with rather a long name, number {i}"),
            inside: Size::new(Length::cm(60.0 + f64::from(i) * 6.0), Length::cm(90.0)),
        })
        .collect();
    let mut long = job();
    long.name =
        "A night market with a very long name, all lanterns, fish, boats and moons ".repeat(3);
    vec![reckon(&ShopSettings::default(), &job()).unwrap(), reckon(&busy, &long).unwrap()]
}

fn texts(page: &[Mark]) -> Vec<&Text> {
    page.iter()
        .filter_map(|m| match m {
            Mark::Text(t) => Some(t),
            _ => None,
        })
        .collect()
}

#[test]
fn all_words_lie_within_the_margins_and_apart() {
    for plan in plans() {
        for paper in [Paper::A4, Paper::Letter] {
            let pages = pages(&plan, paper);
            assert!(pages.len() >= 6 && pages.len() <= 16, "{} pages", pages.len());
            lies_well(&pages, paper);
        }
    }
}

fn lies_well(pages: &[Vec<Mark>], paper: Paper) {
    let (w, h) = (paper.size().width.to_mm(), paper.size().height.to_mm());
    for (n, page) in pages.iter().enumerate() {
        let texts = texts(page);
        assert!(texts.len() > 5, "page {} is nearly empty", n + 1);
        for t in &texts {
            let (left, right) = t.span();
            let inside = left >= MARGIN - 0.5
                && right <= w - MARGIN + 0.5
                && t.y - t.size * 0.7 >= MARGIN - 0.5
                && t.y <= h - MARGIN + 0.5;
            assert!(inside, "page {}: {:?}", n + 1, t);
        }
        // Labels inside drawings stand on white ground and may touch; all else must not.
        for (i, a) in texts.iter().enumerate() {
            for b in &texts[i + 1..] {
                let (p, q) = (a.span(), b.span());
                let over = p.0 < q.1 - 0.1 && q.0 < p.1 - 0.1;
                let high = a.size.min(b.size) * 0.5;
                let drawn = in_drawing(page, a) || in_drawing(page, b);
                assert!(
                    !(over && (a.y - b.y).abs() < high) || drawn,
                    "page {}: {a:?} {b:?}",
                    n + 1
                );
            }
        }
    }
}

/// A drawing's label has its white ground drawn right before it.
fn in_drawing(page: &[Mark], text: &Text) -> bool {
    page.windows(2).any(|w| {
        matches!(&w[0], Mark::Fill { grey, .. } if *grey == 1.0)
            && matches!(&w[1], Mark::Text(t) if t == text)
    })
}

/// One ticket for two screens: all that either prints is in it, what both share is in it once,
/// and its words lie as well as those of one screen.
#[test]
fn one_ticket_holds_every_screen() {
    let settings = ShopSettings::default();
    let plan = |name: &str, area| {
        let facts = JobFacts { name: name.into(), ink_area_m2: area, screens: 2, ..job() };
        reckon(&settings, &facts).unwrap()
    };
    let long = "Paper lanterns, 2 a very deep and smoky blue with a name that is long";
    let (first, second) = (plan("Paper lanterns, 1 Yellow", 0.31), plan(long, 0.11));
    let screens = [("1 Yellow".to_owned(), &first), (long[16..].to_owned(), &second)];
    let all = all_screens(&screens, &settings.cost, "coins", 20);
    for paper in [Paper::A4, Paper::Letter] {
        let together = crate::screens::pages("Paper lanterns", &screens, &all, paper);
        let alone = pages(&first, paper);
        assert!(together.len() < alone.len() * 2, "{} {}", together.len(), alone.len());
        lies_well(&together, paper);
        let words: Vec<String> =
            together.iter().flat_map(|p| texts(p)).map(|t| t.words.clone()).collect();
        let count = |words_of: &str| words.iter().filter(|w| w.as_str() == words_of).count();
        assert_eq!(count("Ink and cure"), 2, "each screen has its ink");
        assert_eq!(count("Frame"), 1, "both take the same frame");
        assert_eq!(count("When something went wrong"), 1);
        for said in ["1 Yellow", "screens in all", "break-even"] {
            assert!(count(said) > 0, "{said}");
        }
        let each = first.section("ink").unwrap().figure("ink for the run by weight").unwrap();
        assert!(count(&each.value.show(first.unit)) > 1, "on the front and on its own page");
    }
}

#[test]
fn the_front_page_has_what_is_needed_at_work() {
    let plan = &plans()[0];
    let pages = pages(plan, Paper::Letter);
    let front: String = texts(&pages[0]).iter().map(|t| format!("{}\n", t.words)).collect();
    for words in [
        "Paper lanterns",
        "Sheets",
        "Mesh",
        "Time at each place",
        "Ink for the run",
        "wash out",
        "page 1 of",
    ] {
        assert!(front.contains(words), "no {words:?} on the front page:\n{front}");
    }
    let all: String =
        pages.iter().flat_map(|p| texts(p)).map(|t| format!("{} ", t.words)).collect();
    let squeezed: String = all.split_whitespace().collect::<Vec<_>>().join(" ");
    for caution in shop::CAUTIONS {
        let first: String = caution.text.split_whitespace().take(4).collect::<Vec<_>>().join(" ");
        assert!(squeezed.contains(&first), "the ticket lacks {first:?}");
    }
}

#[test]
fn the_file_is_read_back_with_its_pages_and_is_the_same_each_time() {
    let plan = &plans()[0];
    let (mut first, mut again) = (Vec::new(), Vec::new());
    write_ticket(plan, Paper::A4, &mut first).unwrap();
    write_ticket(plan, Paper::A4, &mut again).unwrap();
    assert_eq!(first, again);
    let read = lopdf::Document::load_mem(&first).unwrap();
    assert_eq!(read.get_pages().len(), pages(plan, Paper::A4).len());
}

#[test]
fn the_strip_is_a_film_page_of_true_size() {
    let strip = plan_strip(&StripSettings::default()).unwrap();
    let mut bytes = Vec::new();
    write_strip(&strip, &mut bytes).unwrap();
    let read = lopdf::Document::load_mem(&bytes).unwrap();
    let page = read.get_pages()[&1];
    let media =
        read.get_object(page).and_then(|o| o.as_dict()).and_then(|d| d.get(b"MediaBox")).unwrap();
    let media: Vec<f32> = media.as_array().unwrap().iter().map(|n| n.as_float().unwrap()).collect();
    // ISO 32000-1: a unit is 1/72 in; 210 x 279.4 mm is 595.276 x 792 pt.
    assert!((media[2] - 595.276).abs() < 1e-3 && (media[3] - 792.0).abs() < 1e-3, "{media:?}");
    for mark in crate::strip::page(&strip) {
        if let Mark::Text(t) = mark {
            let (left, right) = t.span();
            assert!(left >= 9.0 && right <= 201.0, "{t:?}");
        }
    }
}
