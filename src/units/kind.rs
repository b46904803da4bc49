//! The kinds of measure and the units each may be written in.

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::canonical;

/// A kind of measure. The unit named after each is its *canonical* unit: the one every number of
/// that kind is held in.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Millimetres.
    Length,
    /// Square metres.
    Area,
    /// Litres.
    Volume,
    /// Kilograms.
    Mass,
    /// Degrees Celsius.
    Temperature,
    /// Megapascals.
    Pressure,
    /// A fraction of one; written in per cent.
    Share,
    /// Rise over run as a fraction.
    Slope,
    /// Days.
    Duration,
    /// Kilometres an hour.
    Speed,
    /// Square metres covered by a litre.
    Coverage,
    /// Kilograms on a square metre in an hour.
    SpreadRate,
    /// A bare number.
    Number,
}

/// The units a page is printed in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum System {
    /// Feet, inches, pounds, gallons, degrees Fahrenheit.
    #[default]
    Us,
    /// Metres, kilograms, litres, degrees Celsius.
    Metric,
}

/// One unit of a kind: `canonical = (x - zero) * factor`.
pub(super) struct Unit {
    /// Symbol after spelling variants are folded (see [`symbol`]).
    pub symbol: &'static str,
    /// Canonical units in one of these.
    pub factor: f64,
    /// Reading of this unit at the canonical zero.
    pub zero: f64,
}

const fn unit(symbol: &'static str, factor: f64) -> Unit {
    Unit {
        symbol,
        factor,
        zero: 0.0,
    }
}

// The factors are exact by definition (international yard and pound 1959, US liquid gallon of 231
// cubic inches, standard gravity 9.80665 m/s²), so that nothing is lost on the way there and back.
const LENGTH: &[Unit] = &[
    unit("in", 25.4),
    unit("ft", 304.8),
    unit("yd", 914.4),
    unit("mil", 0.0254),
    unit("mm", 1.0),
    unit("cm", 10.0),
    unit("m", 1000.0),
    unit("µm", 0.001),
];
const AREA: &[Unit] = &[
    unit("ft2", 0.092_903_04),
    unit("m2", 1.0),
    unit("yd2", 0.836_127_36),
    unit("in2", 0.000_645_16),
    unit("cm2", 1e-4),
    unit("mm2", 1e-6),
];
const VOLUME: &[Unit] = &[
    unit("qt", 0.946_352_946),
    unit("l", 1.0),
    unit("gal", 3.785_411_784),
    unit("pt", 0.473_176_473),
    unit("fl oz", 0.029_573_529_562_5),
    unit("ml", 0.001),
    unit("ft3", 28.316_846_592),
    unit("yd3", 764.554_857_984),
    unit("in3", 0.016_387_064),
    unit("m3", 1000.0),
];
const MASS: &[Unit] = &[
    unit("lb", 0.453_592_37),
    unit("kg", 1.0),
    unit("oz", 0.028_349_523_125),
    unit("g", 0.001),
];
const TEMPERATURE: &[Unit] = &[
    Unit {
        symbol: "f",
        factor: 5.0 / 9.0,
        zero: 32.0,
    },
    unit("c", 1.0),
    Unit {
        symbol: "k",
        factor: 1.0,
        zero: 273.15,
    },
];
// One pound-force (4.4482216152605 N) on a square inch (645.16 mm²).
const PSI: f64 = 4.448_221_615_260_5 / 645.16;
const PRESSURE: &[Unit] = &[
    unit("psi", PSI),
    unit("mpa", 1.0),
    unit("ksi", 1000.0 * PSI),
    unit("kpa", 0.001),
    unit("n/mm2", 1.0),
    unit("bar", 0.1),
];
const SHARE: &[Unit] = &[unit("%", 0.01)];
const SLOPE: &[Unit] = &[
    unit("in/ft", 1.0 / 12.0),
    unit("%", 0.01),
    unit("mm/m", 0.001),
    unit("cm/m", 0.01),
];
// A month is a twelfth of the mean Julian year of 365.25 days.
const DURATION: &[Unit] = &[
    unit("min", 1.0 / 1440.0),
    unit("days", 1.0),
    unit("s", 1.0 / 86_400.0),
    unit("h", 1.0 / 24.0),
    unit("weeks", 7.0),
    unit("months", 30.4375),
    unit("years", 365.25),
];
const SPEED: &[Unit] = &[
    unit("mph", 1.609_344),
    unit("km/h", 1.0),
    unit("m/s", 3.6),
    unit("ft/s", 1.097_28),
    unit("ft/min", 0.018_288),
];
const COVERAGE: &[Unit] = &[
    unit("ft2/gal", 0.092_903_04 / 3.785_411_784),
    unit("m2/l", 1.0),
    unit("ft2/qt", 0.092_903_04 / 0.946_352_946),
];
const SPREAD_RATE: &[Unit] = &[
    unit("lb/ft2/h", 0.453_592_37 / 0.092_903_04),
    unit("kg/m2/h", 1.0),
];

impl Kind {
    /// Every kind.
    pub const ALL: [Kind; 13] = [
        Kind::Length,
        Kind::Area,
        Kind::Volume,
        Kind::Mass,
        Kind::Temperature,
        Kind::Pressure,
        Kind::Share,
        Kind::Slope,
        Kind::Duration,
        Kind::Speed,
        Kind::Coverage,
        Kind::SpreadRate,
        Kind::Number,
    ];

    /// The word used in pack files and schemas.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Length => "length",
            Kind::Area => "area",
            Kind::Volume => "volume",
            Kind::Mass => "mass",
            Kind::Temperature => "temperature",
            Kind::Pressure => "pressure",
            Kind::Share => "share",
            Kind::Slope => "slope",
            Kind::Duration => "duration",
            Kind::Speed => "speed",
            Kind::Coverage => "coverage",
            Kind::SpreadRate => "spread_rate",
            Kind::Number => "number",
        }
    }

    /// The kind with its article, for sentences: `a length`, `an area`.
    pub fn named(self) -> &'static str {
        match self {
            Kind::Length => "a length",
            Kind::Area => "an area",
            Kind::Volume => "a volume",
            Kind::Mass => "a mass",
            Kind::Temperature => "a temperature",
            Kind::Pressure => "a pressure",
            Kind::Share => "a share",
            Kind::Slope => "a slope",
            Kind::Duration => "a span of time",
            Kind::Speed => "a speed",
            Kind::Coverage => "a coverage",
            Kind::SpreadRate => "a spread rate",
            Kind::Number => "a bare number",
        }
    }

    /// How it is written, by example.
    pub fn examples(self) -> &'static [&'static str] {
        match self {
            Kind::Length => &["3/8 in", "5' 6\"", "4 to 8 mm", "unknown"],
            Kind::Area => &["360 ft2", "33 m2"],
            Kind::Volume => &["3 to 3-1/2 qt", "3 L"],
            Kind::Mass => &["50 lb", "25 kg"],
            Kind::Temperature => &["72 F", "50 to 90 F", "22 C"],
            Kind::Pressure => &["200 psi", "1.4 MPa"],
            Kind::Share => &["12 %", "5 to 10 %"],
            Kind::Slope => &["1/4 in/ft", "2 %", "1:48"],
            Kind::Duration => &["45 s", "20 min", "18 months"],
            Kind::Speed => &["10 mph", "16 km/h"],
            Kind::Coverage => &["200 ft2/gal", "5 m2/L"],
            Kind::SpreadRate => &["0.2 lb/ft2/h", "1 kg/m2/h"],
            Kind::Number => &["12", "3 to 5"],
        }
    }

    /// The units it is usually taken in, the handiest first, as they are written.
    pub fn usual_units(self, system: System) -> &'static [&'static str] {
        use System::{Metric, Us};
        match (self, system) {
            (Kind::Length, Us) => &["in", "ft", "mm"],
            (Kind::Length, Metric) => &["mm", "cm", "m"],
            (Kind::Area, Us) => &["ft2"],
            (Kind::Area, Metric) => &["m2"],
            (Kind::Volume, Us) => &["qt", "gal", "ft3"],
            (Kind::Volume, Metric) => &["L", "m3"],
            (Kind::Mass, Us) => &["lb"],
            (Kind::Mass, Metric) => &["kg"],
            (Kind::Temperature, Us) => &["F", "C"],
            (Kind::Temperature, Metric) => &["C", "F"],
            (Kind::Pressure, Us) => &["psi"],
            (Kind::Pressure, Metric) => &["MPa"],
            (Kind::Share, _) => &["%"],
            (Kind::Slope, Us) => &["in/ft", "%"],
            (Kind::Slope, Metric) => &["%", "mm/m"],
            (Kind::Duration, _) => &["s", "min", "h", "days", "months", "years"],
            (Kind::Speed, Us) => &["mph"],
            (Kind::Speed, Metric) => &["km/h", "m/s"],
            (Kind::Coverage, Us) => &["ft2/gal"],
            (Kind::Coverage, Metric) => &["m2/L"],
            (Kind::SpreadRate, Us) => &["lb/ft2/h"],
            (Kind::SpreadRate, Metric) => &["kg/m2/h"],
            (Kind::Number, _) => &[],
        }
    }

    /// Whether a number below zero means something (a drop, a fall toward the building, frost,
    /// a shortfall).
    pub fn may_be_negative(self) -> bool {
        matches!(
            self,
            Kind::Length | Kind::Slope | Kind::Temperature | Kind::Share | Kind::Number
        )
    }

    pub(super) fn units(self) -> &'static [Unit] {
        match self {
            Kind::Length => LENGTH,
            Kind::Area => AREA,
            Kind::Volume => VOLUME,
            Kind::Mass => MASS,
            Kind::Temperature => TEMPERATURE,
            Kind::Pressure => PRESSURE,
            Kind::Share => SHARE,
            Kind::Slope => SLOPE,
            Kind::Duration => DURATION,
            Kind::Speed => SPEED,
            Kind::Coverage => COVERAGE,
            Kind::SpreadRate => SPREAD_RATE,
            Kind::Number => &[],
        }
    }

    pub(super) fn unit(self, text: &str) -> Option<&'static Unit> {
        let symbol = symbol(text);
        self.units().iter().find(|u| u.symbol == symbol)
    }

    /// A number in a unit of this kind (`ft2`, `sq ft`, `MPa`), as a canonical number. `None` when
    /// the kind has no such unit.
    ///
    /// ```
    /// use ringtrue::units::Kind;
    /// assert_eq!(Kind::Length.from_unit(1.0, "ft"), Some(304.8));
    /// assert_eq!(Kind::Length.to_unit(304.8, "in"), Some(12.0));
    /// assert_eq!(Kind::Length.from_unit(1.0, "psi"), None);
    /// ```
    pub fn from_unit(self, x: f64, unit: &str) -> Option<f64> {
        self.unit(unit).map(|u| canonical((x - u.zero) * u.factor))
    }

    /// A canonical number in another unit of this kind. `None` when the kind has no such unit.
    pub fn to_unit(self, x: f64, unit: &str) -> Option<f64> {
        self.unit(unit).map(|u| canonical(x / u.factor + u.zero))
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A word that is no kind of measure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no kind of measure")]
pub struct NoSuchKind(String);

impl FromStr for Kind {
    type Err = NoSuchKind;
    fn from_str(word: &str) -> Result<Self, NoSuchKind> {
        Kind::ALL
            .into_iter()
            .find(|k| k.word() == word)
            .ok_or_else(|| NoSuchKind(word.to_owned()))
    }
}

/// Folds the ways a unit is spelt to one symbol: `sq. ft`, `square feet`, `ft²` all give `ft2`;
/// `lb per sq ft per hour` gives `lb/ft2/h`.
pub(super) fn symbol(text: &str) -> String {
    let mut flat = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            '²' => flat.push('2'),
            '³' => flat.push('3'),
            '^' | '.' => {}
            'μ' => flat.push('µ'),
            c if c.is_whitespace() => {
                if !flat.ends_with(' ') {
                    flat.push(' ');
                }
            }
            c => flat.extend(c.to_lowercase()),
        }
    }
    let flat = flat.replace(" per ", "/");
    let pieces: Vec<&str> = flat
        .split('/')
        .map(|piece| spelling(piece.trim()))
        .collect();
    pieces.join("/")
}

fn spelling(word: &str) -> &str {
    match word {
        "\"" | "inch" | "inches" => "in",
        "'" | "foot" | "feet" => "ft",
        "yard" | "yards" => "yd",
        "mils" | "thou" => "mil",
        "millimeter" | "millimeters" | "millimetre" | "millimetres" => "mm",
        "centimeter" | "centimeters" | "centimetre" | "centimetres" => "cm",
        "meter" | "meters" | "metre" | "metres" => "m",
        "um" | "micron" | "microns" | "micrometer" | "micrometers" => "µm",
        "sq ft" | "sqft" | "sf" | "square foot" | "square feet" => "ft2",
        "sq in" | "square inch" | "square inches" => "in2",
        "sq yd" | "sqyd" | "sy" | "square yard" | "square yards" => "yd2",
        "sq m" | "sqm" | "square meter" | "square meters" | "square metre" | "square metres" => {
            "m2"
        }
        "quart" | "quarts" | "qts" => "qt",
        "gallon" | "gallons" | "gals" => "gal",
        "pint" | "pints" | "pts" => "pt",
        "floz" | "fluid ounce" | "fluid ounces" => "fl oz",
        "liter" | "liters" | "litre" | "litres" => "l",
        "milliliter" | "milliliters" | "millilitre" | "millilitres" => "ml",
        "cu ft" | "cuft" | "cf" | "cubic foot" | "cubic feet" => "ft3",
        "cu yd" | "cuyd" | "cy" | "cubic yard" | "cubic yards" => "yd3",
        "cu in" | "cubic inch" | "cubic inches" => "in3",
        "cu m" | "cubic meter" | "cubic meters" | "cubic metre" | "cubic metres" => "m3",
        "pound" | "pounds" | "lbs" => "lb",
        "ounce" | "ounces" => "oz",
        "kilogram" | "kilograms" | "kilo" | "kilos" => "kg",
        "gram" | "grams" => "g",
        "°f" | "° f" | "deg f" | "degf" | "degrees f" | "fahrenheit" | "degrees fahrenheit" => {
            "f"
        }
        "°c" | "° c" | "deg c" | "degc" | "degrees c" | "celsius" | "degrees celsius" => "c",
        "kelvin" => "k",
        "lb/in2" => "psi",
        "percent" | "per cent" | "pct" => "%",
        "sec" | "secs" | "second" | "seconds" => "s",
        "mins" | "minute" | "minutes" => "min",
        "hr" | "hrs" | "hour" | "hours" => "h",
        "d" | "day" => "days",
        "w" | "wk" | "wks" | "week" => "weeks",
        "mo" | "mos" | "month" => "months",
        "y" | "yr" | "yrs" | "year" => "years",
        "kph" | "kmh" => "km/h",
        "miles/h" | "mi/h" => "mph",
        other => other,
    }
}
