use crate::{Lab, Rgb};

/// A plain name for a colour, such as `Dark red`; printers rename it as they like.
pub(crate) fn name(colour: Rgb) -> String {
    let Lab { l, a, b } = colour.lab();
    let chroma = a.hypot(b);
    if chroma < 8.0 {
        let grey = match l {
            l if l < 15.0 => "Black",
            l if l < 40.0 => "Dark grey",
            l if l < 70.0 => "Grey",
            l if l < 93.0 => "Light grey",
            _ => "White",
        };
        return grey.into();
    }
    let hue_name = match hue(colour) {
        h if !(15.0..345.0).contains(&h) => {
            if l > 65.0 {
                "pink"
            } else {
                "red"
            }
        }
        h if h < 42.0 => {
            if l < 50.0 {
                "brown"
            } else {
                "orange"
            }
        }
        h if h < 70.0 => {
            if l < 45.0 {
                "olive"
            } else {
                "yellow"
            }
        }
        h if h < 165.0 => "green",
        h if h < 195.0 => "teal",
        h if h < 255.0 => "blue",
        h if h < 290.0 => "purple",
        h if h < 325.0 => "magenta",
        _ => "pink",
    };
    let text = match l {
        l if l < 25.0 => format!("dark {hue_name}"),
        l if l > 85.0 && hue_name != "yellow" => format!("light {hue_name}"),
        _ => hue_name.into(),
    };
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// The angle on the wheel of red, yellow, green, cyan, blue and magenta, in degrees.
fn hue(colour: Rgb) -> f64 {
    let [r, g, b] = colour.0.map(f64::from);
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let span = (most - least).max(1.0);
    let sixth = if most == r {
        (g - b) / span
    } else if most == g {
        2.0 + (b - r) / span
    } else {
        4.0 + (r - g) / span
    };
    (60.0 * sixth).rem_euclid(360.0)
}

/// Gives equal names numbers, so that every plate can be told by its name.
pub(crate) fn distinct(names: &mut [String]) {
    let plain = names.to_vec();
    for i in 0..names.len() {
        let same = plain.iter().filter(|n| **n == plain[i]).count();
        if same > 1 {
            let before = plain[..i].iter().filter(|n| **n == plain[i]).count();
            names[i] = format!("{} {}", plain[i], before + 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_plain_and_distinct() {
        let named = |r, g, b| name(Rgb([r, g, b]));
        assert_eq!(named(0, 0, 0), "Black");
        assert_eq!(named(255, 255, 255), "White");
        assert_eq!(named(220, 20, 30), "Red");
        assert_eq!(named(20, 60, 220), "Blue");
        let mut names = ["Red".to_string(), "Blue".into(), "Red".into()];
        distinct(&mut names);
        assert_eq!(names, ["Red 1", "Blue", "Red 2"]);
    }
}
