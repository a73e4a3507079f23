use crate::{Error, Source, figure::number};
use measure::Length;
use std::ops::RangeInclusive;

/// A group of editable numbers with their defaults, ranges and sources.
pub trait Settings {
    /// Every number, to be shown and changed.
    fn fields(&mut self) -> Vec<Field<'_>>;

    /// Refuses numbers that are not finite or out of all reason.
    ///
    /// # Errors
    /// [`Error::Range`] for the first such number.
    fn check(&self) -> Result<(), Error>;
}

/// One editable number.
pub struct Field<'a> {
    /// Its name in the saved file, with underscores.
    pub name: &'static str,
    /// One sentence saying what it is.
    pub about: &'static str,
    /// Its unit, or nothing for a length, which is shown in the shop's unit.
    pub unit: &'static str,
    /// Where the default comes from.
    pub source: Source,
    /// The number itself.
    pub value: FieldValue<'a>,
}

/// What a field holds and what it may hold.
pub enum FieldValue<'a> {
    /// A number.
    Number(&'a mut f64, RangeInclusive<f64>),
    /// A length.
    Length(&'a mut Length, RangeInclusive<Length>),
    /// A whole number.
    Count(&'a mut u32, RangeInclusive<u32>),
    /// Yes or no.
    Switch(&'a mut bool),
    /// One of a few named choices.
    Choice(&'a mut dyn Choice),
}

/// A value that is one of a few named choices.
pub trait Choice {
    /// The names in order.
    fn names(&self) -> &'static [&'static str];
    /// Which one is chosen.
    fn index(&self) -> usize;
    /// Chooses another; an index past the end changes nothing.
    fn choose(&mut self, index: usize);
}

/// A type that a field can hold.
pub(crate) trait Editable {
    type Range;
    fn value(&mut self, range: Self::Range) -> FieldValue<'_>;
    fn check(&self, name: &str, unit: &str, range: &Self::Range) -> Result<(), Error>;
}

impl Editable for f64 {
    type Range = RangeInclusive<f64>;
    fn value(&mut self, range: Self::Range) -> FieldValue<'_> {
        FieldValue::Number(self, range)
    }
    fn check(&self, name: &str, unit: &str, range: &Self::Range) -> Result<(), Error> {
        check_number(name, *self, range.clone(), unit)
    }
}

impl Editable for Length {
    type Range = RangeInclusive<Length>;
    fn value(&mut self, range: Self::Range) -> FieldValue<'_> {
        FieldValue::Length(self, range)
    }
    fn check(&self, name: &str, _: &str, range: &Self::Range) -> Result<(), Error> {
        check_length(name, *self, range.clone())
    }
}

impl Editable for u32 {
    type Range = RangeInclusive<u32>;
    fn value(&mut self, range: Self::Range) -> FieldValue<'_> {
        FieldValue::Count(self, range)
    }
    fn check(&self, name: &str, unit: &str, range: &Self::Range) -> Result<(), Error> {
        check_number(
            name,
            f64::from(*self),
            f64::from(*range.start())..=f64::from(*range.end()),
            unit,
        )
    }
}

impl Editable for bool {
    type Range = ();
    fn value(&mut self, (): ()) -> FieldValue<'_> {
        FieldValue::Switch(self)
    }
    fn check(&self, _: &str, _: &str, (): &()) -> Result<(), Error> {
        Ok(())
    }
}

impl<T: Choice> Editable for T {
    type Range = ();
    fn value(&mut self, (): ()) -> FieldValue<'_> {
        FieldValue::Choice(self)
    }
    fn check(&self, _: &str, _: &str, (): &()) -> Result<(), Error> {
        Ok(())
    }
}

/// Refuses a number outside `range`, and one that is not finite.
pub(crate) fn check_number(
    what: &str,
    v: f64,
    range: RangeInclusive<f64>,
    unit: &str,
) -> Result<(), Error> {
    if range.contains(&v) {
        return Ok(());
    }
    let show = |v: f64| format!("{} {unit}", number(v)).trim_end().to_owned();
    Err(Error::Range {
        what: what.replace('_', " "),
        got: if v.is_finite() { show(v) } else { "not a number".into() },
        low: show(*range.start()),
        high: show(*range.end()),
    })
}

/// Refuses a length outside `range`, and one that is not finite.
pub(crate) fn check_length(
    what: &str,
    v: Length,
    range: RangeInclusive<Length>,
) -> Result<(), Error> {
    check_number(what, v.to_mm(), range.start().to_mm()..=range.end().to_mm(), "mm")
}

/// Declares a group of settings: each line is a field with its sentence,
/// default, unit, range and source, so that none can be without.
macro_rules! settings {
    ($(#[$meta:meta])* pub struct $group:ident {
        $( $(#[doc = $about:literal])+
           $field:ident: $kind:ty = $default:expr, $unit:literal, $range:expr, $source:expr; )+
    }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(default)]
        pub struct $group {
            $( $(#[doc = $about])+ pub $field: $kind, )+
        }
        impl Default for $group {
            fn default() -> Self {
                Self { $( $field: $default, )+ }
            }
        }
        impl $crate::settings::Settings for $group {
            fn fields(&mut self) -> Vec<$crate::settings::Field<'_>> {
                vec![$( $crate::settings::Field {
                    name: stringify!($field),
                    about: concat!($($about),+).trim_start(),
                    unit: $unit,
                    source: $source,
                    value: $crate::settings::Editable::value(&mut self.$field, $range),
                }, )+]
            }
            fn check(&self) -> Result<(), $crate::Error> {
                $( $crate::settings::Editable::check(
                    &self.$field, stringify!($field), $unit, &$range)?; )+
                Ok(())
            }
        }
    };
}

/// Declares an enum of named choices.
macro_rules! choice {
    ($(#[$meta:meta])* pub enum $kind:ident { $( $(#[$about:meta])* $name:ident = $words:literal, )+ }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum $kind { $( $(#[$about])* $name, )+ }
        impl $kind {
            const ALL: &'static [Self] = &[$( Self::$name, )+];
            /// The choice in words.
            pub const fn name(self) -> &'static str {
                match self { $( Self::$name => $words, )+ }
            }
        }
        impl $crate::settings::Choice for $kind {
            fn names(&self) -> &'static [&'static str] {
                &[$( $words, )+]
            }
            fn index(&self) -> usize {
                Self::ALL.iter().position(|k| k == self).unwrap_or(0)
            }
            fn choose(&mut self, index: usize) {
                *self = Self::ALL.get(index).copied().unwrap_or(*self);
            }
        }
    };
}

pub(crate) use {choice, settings};
