use crate::{Length, Size, Unit};

/// Why a typed length was not understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ParseError(String);

impl ParseError {
    fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }
}

impl std::fmt::Display for ParseError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}
impl std::error::Error for ParseError {}

/// Reads a length as a printer types it: a number with a unit (`in`, `"`, `mm`, `cm`, `pt`),
/// a fraction, a mixed number, or a sum, difference, multiple or part of those.
/// A bare number takes `default_unit`; without one, a missing unit is an error.
///
/// # Errors
/// One sentence saying what is wrong, where nothing sensible can be read.
///
/// ```
/// use measure::{Unit, parse_length};
/// let inches = |text| parse_length(text, Some(Unit::Cm)).unwrap().show(Unit::In);
/// assert_eq!(inches("13in + 1/4in"), "13.25 in");
/// assert_eq!(inches("13 1/4 in"), "13.25 in");
/// assert_eq!(inches("2.54"), "1 in");
/// assert_eq!(inches("(42in - 1in) / 2"), "20.5 in");
/// assert!(parse_length("nan in", None).is_err());
/// ```
pub fn parse_length(text: &str, default_unit: Option<Unit>) -> Result<Length, ParseError> {
    let mut p = Parser { rest: text.trim(), default_unit, depth: 0 };
    if p.rest.is_empty() {
        return Err(ParseError::new("a length is missing"));
    }
    let value = p.sum()?;
    p.skip_space();
    if !p.rest.is_empty() {
        return Err(ParseError::new(format!(
            "\"{}\" in \"{text}\" is not part of a length",
            p.rest
        )));
    }
    let length = match (value, default_unit) {
        (Value::Length(l), _) => l,
        (Value::Number(v), Some(unit)) => Length::of(v, unit),
        (Value::Number(_), None) => {
            return Err(ParseError::new(format!("\"{text}\" needs a unit: in, mm, cm or pt")));
        }
    };
    if !length.is_finite() {
        return Err(ParseError::new(format!("\"{text}\" is not a finite length")));
    }
    Ok(length)
}

/// Reads a width and a height: `13x19in`, `329 x 483 mm`, `8.5in x 30cm`.
/// The width may leave its unit to the height.
///
/// # Errors
/// One sentence saying what is wrong.
///
/// ```
/// use measure::{Length, parse_size};
/// let size = parse_size("13x19in", None).unwrap();
/// assert_eq!((size.width, size.height), (Length::inches(13.0), Length::inches(19.0)));
/// ```
pub fn parse_size(text: &str, default_unit: Option<Unit>) -> Result<Size, ParseError> {
    let (w, h) = text
        .split_once(['x', 'X', '\u{d7}'])
        .ok_or_else(|| ParseError::new(format!("\"{text}\" is not a size such as 13x19in")))?;
    let height = parse_length(h, default_unit)?;
    let unit_of_height = unit_at_end(h).or(default_unit);
    Ok(Size { width: parse_length(w, unit_of_height)?, height })
}

fn unit_at_end(text: &str) -> Option<Unit> {
    let text = text.trim_end().to_lowercase();
    UNITS.iter().find(|(name, _)| text.ends_with(name)).map(|&(_, unit)| unit)
}

/// Longer spellings first, so that `inch` is not read as `in` and `ch`.
const UNITS: [(&str, Unit); 14] = [
    ("millimetres", Unit::Mm),
    ("millimeters", Unit::Mm),
    ("centimetres", Unit::Cm),
    ("centimeters", Unit::Cm),
    ("inches", Unit::In),
    ("points", Unit::Pt),
    ("inch", Unit::In),
    ("in", Unit::In),
    ("mm", Unit::Mm),
    ("cm", Unit::Cm),
    ("pt", Unit::Pt),
    ("\u{2033}", Unit::In),
    ("\u{201d}", Unit::In),
    ("\"", Unit::In),
];

#[derive(Clone, Copy)]
enum Value {
    Number(f64),
    Length(Length),
}

struct Parser<'a> {
    rest: &'a str,
    default_unit: Option<Unit>,
    depth: u8,
}

impl Parser<'_> {
    fn skip_space(&mut self) {
        self.rest = self.rest.trim_start();
    }

    fn take(&mut self, c: &[char]) -> Option<char> {
        self.skip_space();
        let first = self.rest.chars().next().filter(|f| c.contains(f))?;
        self.rest = &self.rest[first.len_utf8()..];
        Some(first)
    }

    fn sum(&mut self) -> Result<Value, ParseError> {
        let mut total = self.product()?;
        while let Some(op) = self.take(&['+', '-', '\u{2212}']) {
            let sign = if op == '+' { 1.0 } else { -1.0 };
            total = match (total, self.product()?) {
                (Value::Number(a), Value::Number(b)) => Value::Number(a + sign * b),
                (Value::Length(a), Value::Length(b)) => Value::Length(a + b * sign),
                (Value::Length(a), Value::Number(b)) => Value::Length(a + self.bare(b)? * sign),
                (Value::Number(a), Value::Length(b)) => Value::Length(self.bare(a)? + b * sign),
            };
        }
        Ok(total)
    }

    /// A number that stands beside a length in a sum takes the default unit.
    fn bare(&self, v: f64) -> Result<Length, ParseError> {
        let unit = self.default_unit;
        unit.map(|u| Length::of(v, u))
            .ok_or_else(|| ParseError::new(format!("{v} needs a unit: in, mm, cm or pt")))
    }

    fn product(&mut self) -> Result<Value, ParseError> {
        let mut total = self.factor()?;
        while let Some(op) = self.take(&['*', '/', '\u{d7}', '\u{f7}']) {
            let by = self.factor()?;
            total = match (total, op, by) {
                (Value::Number(a), '*' | '\u{d7}', Value::Number(b)) => Value::Number(a * b),
                (Value::Number(a), '*' | '\u{d7}', Value::Length(b))
                | (Value::Length(b), '*' | '\u{d7}', Value::Number(a)) => Value::Length(b * a),
                (Value::Number(a), _, Value::Number(b)) => Value::Number(a / b),
                (Value::Length(a), '/' | '\u{f7}', Value::Number(b)) => Value::Length(a / b),
                (Value::Length(a), '/' | '\u{f7}', Value::Length(b)) => Value::Number(a / b),
                _ => return Err(ParseError::new("two lengths cannot be multiplied to a length")),
            };
        }
        Ok(total)
    }

    fn factor(&mut self) -> Result<Value, ParseError> {
        if self.take(&['-', '\u{2212}']).is_some() {
            return Ok(match self.factor()? {
                Value::Number(v) => Value::Number(-v),
                Value::Length(l) => Value::Length(-l),
            });
        }
        if self.take(&['(']).is_some() {
            self.depth += 1;
            if self.depth > 16 {
                return Err(ParseError::new("too many brackets"));
            }
            let inner = self.sum()?;
            if self.take(&[')']).is_none() {
                return Err(ParseError::new("a bracket is not closed"));
            }
            self.depth -= 1;
            return Ok(inner);
        }
        let mut value = self
            .number()
            .ok_or_else(|| ParseError::new(format!("\"{}\" is not a number", self.rest)))?;
        // "1/4in" is a quarter of an inch and "13 1/4 in" is thirteen and a quarter.
        if let Some(bottom) = self.over() {
            value /= bottom;
        } else {
            let before = self.rest;
            match (self.number(), self.over()) {
                (Some(top), Some(bottom)) => value += top / bottom,
                _ => self.rest = before,
            }
        }
        Ok(match self.unit() {
            Some(unit) => Value::Length(Length::of(value, unit)),
            None => Value::Number(value),
        })
    }

    fn number(&mut self) -> Option<f64> {
        self.skip_space();
        let end = self
            .rest
            .find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',')
            .unwrap_or(self.rest.len());
        // A comma is a decimal comma.
        let value = self.rest[..end].replace(',', ".").parse().ok()?;
        self.rest = &self.rest[end..];
        Some(value)
    }

    /// The number under a fraction's stroke, if one follows.
    fn over(&mut self) -> Option<f64> {
        let before = self.rest;
        let bottom = self.take(&['/']).and_then(|_| self.number());
        if bottom.is_none() {
            self.rest = before;
        }
        bottom
    }

    fn unit(&mut self) -> Option<Unit> {
        self.skip_space();
        let (name, unit) = UNITS.iter().find(|(name, _)| {
            self.rest.get(..name.len()).is_some_and(|start| start.eq_ignore_ascii_case(name))
        })?;
        self.rest = &self.rest[name.len()..];
        Some(*unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_a_printer_types() {
        let cases = [
            ("42in", 42.0),
            ("42 IN", 42.0),
            ("42\"", 42.0),
            (".5in", 0.5),
            ("13in + 1/4in", 13.25),
            ("13 1/4in", 13.25),
            ("84/2in", 42.0),
            ("42in/2", 21.0),
            ("2*(10in - 2.54cm)", 18.0),
            ("72pt", 1.0),
            ("25,4mm", 1.0),
            ("-1in", -1.0),
        ];
        for (text, inches) in cases {
            let got = parse_length(text, None).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!((got.to_inches() - inches).abs() < 1e-12, "{text} gave {got:?}");
        }
    }

    #[test]
    fn refuses_nonsense() {
        for text in [
            "",
            " ",
            "in",
            "nan",
            "NaNin",
            "inf in",
            "1e9in",
            "1..2in",
            "4",
            "1in+",
            "(1in",
            "1in 2in",
            "1in*1in",
            "1in/0",
            "5 furlongs",
            "1/2",
            "\u{1f600}",
        ] {
            assert!(parse_length(text, None).is_err(), "{text:?} was read");
        }
    }

    #[test]
    fn a_bare_number_takes_the_unit_shown() {
        assert_eq!(parse_length("3 + 1/2", Some(Unit::In)), Ok(Length::inches(3.5)));
        let sum = parse_length("3in + 5", Some(Unit::Mm)).unwrap();
        assert!((sum.to_mm() - 81.2).abs() < 1e-9);
    }
}
