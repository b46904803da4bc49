//! How much of everything: volumes, bags, batches, water, film coats, lifts, and whether a data
//! sheet's own figures can be true.

use serde::Serialize;
use uom::si::area::square_meter;
use uom::si::length::meter;
use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::volume::{cubic_meter, liter};

use crate::units::{Area, Length, Mass, MassDensity, Volume};

pub use crate::method::sizes::{QuantityError, lifts, patch_outline, saw_depth};
use crate::method::sizes::{ceil, not_negative, positive};

/// Volume of an even layer: area × thickness.
pub fn layer_volume(area: Area, thickness: Length) -> Volume {
    area * thickness
}

/// Area that a volume covers at a thickness. `None` for a thickness of zero or less.
pub fn covered_area(volume: Volume, thickness: Length) -> Option<Area> {
    (thickness > Length::new::<meter>(0.0)).then(|| volume / thickness)
}

/// Mean texture depth by the sand patch: 4V/(πD²), ASTM E965 (form from memory).
///
/// `volume` of sand spread into a round patch of `diameter`. The depth runs up to the line of the
/// peaks, which is exactly what a layer must fill before it has any thickness of its own.
pub fn texture_depth(volume: Volume, diameter: Length) -> Option<Length> {
    (diameter > Length::new::<meter>(0.0))
        .then(|| 4.0 * volume / (std::f64::consts::PI * diameter * diameter))
}

/// Volume of a strip whose thickness runs evenly from one end to the other: w·l·(a + b)/2.
pub fn taper_volume(width: Length, length: Length, from: Length, to: Length) -> Volume {
    width * length * ((from + to) / 2.0)
}

/// Cross-section of a groove.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GrooveShape {
    /// Saw cut: width × depth.
    Square,
    /// Tooled V: half of it.
    Vee,
    /// Rounded, as pressed by most pattern mats: π/4 of it.
    Round,
}

impl GrooveShape {
    /// Share of width × depth that is open.
    pub fn share(self) -> f64 {
        match self {
            GrooveShape::Square => 1.0,
            GrooveShape::Vee => 0.5,
            GrooveShape::Round => std::f64::consts::FRAC_PI_4,
        }
    }
}

/// Total run of the grooves of a pattern of rectangles: each cell owns half of its outline.
///
/// For cells `a` by `b` that is area × (1/a + 1/b).
pub fn pattern_groove_run(area: Area, a: Length, b: Length) -> Option<Length> {
    let zero = Length::new::<meter>(0.0);
    (a > zero && b > zero).then(|| area / a + area / b)
}

/// Bags for a net volume with a waste share: ⌈V(1 + w)/yield⌉.
///
/// # Errors
/// A yield of zero, a volume or waste below zero, or a number of bags that no job takes.
pub fn bags(net: Volume, waste_share: f64, bag_yield: Volume) -> Result<u64, QuantityError> {
    const MOST: f64 = 1e7;
    let net = not_negative("the volume to fill", net.get::<liter>())?;
    let waste = not_negative("the waste", waste_share)?;
    let bag_yield = positive("the yield of a bag", bag_yield.get::<liter>())?;
    let count = ceil(net * (1.0 + waste) / bag_yield);
    if count > MOST {
        return Err(QuantityError::TooMany {
            what: "the number of bags",
            value: count,
        });
    }
    Ok(count as u64)
}

/// Bags in each batch, full batches first and the rest last.
///
/// # Errors
/// A batch of no bags.
pub fn batches(bags: u64, bags_per_batch: u64) -> Result<Vec<u64>, QuantityError> {
    const MOST: u64 = 100_000;
    if bags_per_batch == 0 {
        return Err(QuantityError::NotPositive {
            what: "the number of bags in a batch",
            value: 0.0,
        });
    }
    let full = bags / bags_per_batch;
    if full > MOST {
        return Err(QuantityError::TooMany {
            what: "the number of batches",
            value: full as f64,
        });
    }
    let mut all = vec![bags_per_batch; full as usize];
    let rest = bags % bags_per_batch;
    if rest > 0 {
        all.push(rest);
    }
    Ok(all)
}

/// Water for a batch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchWater {
    /// Least the sheet allows.
    pub least: Volume,
    /// Where to start: the middle of the range, or the dry end on a slope.
    pub start: Volume,
    /// Most the sheet allows. Never more, however stiff it looks.
    pub greatest: Volume,
}

/// Water for a batch from the sheet's range for a bag. On a slope the mix starts at the dry end.
pub fn batch_water(bags: u64, least: Volume, greatest: Volume, on_slope: bool) -> BatchWater {
    let n = bags as f64;
    let (least, greatest) = if least <= greatest {
        (least, greatest)
    } else {
        (greatest, least)
    };
    let start = if on_slope {
        least
    } else {
        (least + greatest) / 2.0
    };
    BatchWater {
        least: least * n,
        start: start * n,
        greatest: greatest * n,
    }
}

/// Mixed volume of a bag from its parts: [W/(SG·ρw) + water]/(1 − air).
///
/// `powder_density` is the density of the solid grains, `air` the share of air in the mix (below 1).
///
/// # Errors
/// A density or mass of zero, or an air share outside 0 to 1.
pub fn yield_from_solids(
    bag: Mass,
    powder_density: MassDensity,
    water: Volume,
    air: f64,
) -> Result<Volume, QuantityError> {
    positive("the bag", bag.get::<kilogram>())?;
    positive(
        "the density of the powder",
        powder_density.get::<kilogram_per_cubic_meter>(),
    )?;
    not_negative("the water", water.get::<liter>())?;
    not_negative("the air", air)?;
    positive("what is left beside the air", 1.0 - air)?;
    Ok((bag / powder_density + water) / (1.0 - air))
}

/// A sheet's yield or coverage held against the mass that goes into it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MassBalance {
    /// Volume the sheet claims for a bag, litres.
    pub claimed_l: f64,
    /// Wet density that the claim implies, kg/m³.
    pub density_kg_m3: f64,
    /// Least volume that the mass can make, litres.
    pub least_l: f64,
    /// Greatest volume that the mass can make, litres.
    pub greatest_l: f64,
    /// Whether the claim lies within.
    pub plausible: bool,
}

/// Holds a claimed yield against mass: (bag + water)/yield must be a wet density that such mixes
/// have. `density` is the plausible range, least and greatest.
///
/// # Errors
/// A yield, mass or density of zero.
pub fn mass_balance(
    bag: Mass,
    water: Volume,
    claimed_yield: Volume,
    density: (MassDensity, MassDensity),
) -> Result<MassBalance, QuantityError> {
    let claimed = positive("the yield of a bag", claimed_yield.get::<cubic_meter>())?;
    let mass = positive("the bag", bag.get::<kilogram>())? + water_mass_kg(water);
    let lightest = positive(
        "the least wet density",
        density.0.get::<kilogram_per_cubic_meter>(),
    )?;
    let heaviest = positive(
        "the greatest wet density",
        density.1.get::<kilogram_per_cubic_meter>(),
    )?;
    let implied = mass / claimed;
    Ok(MassBalance {
        claimed_l: claimed * 1000.0,
        density_kg_m3: implied,
        least_l: mass / heaviest.max(lightest) * 1000.0,
        greatest_l: mass / lightest.min(heaviest) * 1000.0,
        plausible: implied >= lightest.min(heaviest) * (1.0 - 1e-9)
            && implied <= heaviest.max(lightest) * (1.0 + 1e-9),
    })
}

/// Mass of water at its greatest density, kg. 8.345 lb a US gallon.
pub fn water_mass_kg(water: Volume) -> f64 {
    water.get::<liter>() * 0.999_975
}

/// Yield that a coverage claim implies: area × thickness.
pub fn claimed_yield(area: Area, thickness: Length) -> Volume {
    area * thickness
}

/// Area that a unit of volume covers, m²/L, at a wet film thickness. `None` for no thickness.
pub fn film_coverage_m2_l(wet_film: Length) -> Option<f64> {
    (wet_film > Length::new::<meter>(0.0)).then(|| 1e-3 / wet_film.get::<meter>())
}

/// Wet film thickness at a coverage (m²/L). `None` for a coverage of zero.
pub fn wet_film(coverage_m2_l: f64) -> Option<Length> {
    (coverage_m2_l > 0.0).then(|| Length::new::<meter>(1e-3 / coverage_m2_l))
}

/// Coverage (m²/L) that leaves a dry film: solids share / dry thickness.
pub fn coverage_for_dry_film_m2_l(solids_share: f64, dry_film: Length) -> Option<f64> {
    (solids_share > 0.0 && solids_share <= 1.0)
        .then(|| film_coverage_m2_l(dry_film).map(|c| c * solids_share))?
}

/// Liquid for some coats: area × coats / coverage.
///
/// # Errors
/// A coverage of zero or an area below zero.
pub fn film_volume(area: Area, coats: u32, coverage_m2_l: f64) -> Result<Volume, QuantityError> {
    let area = not_negative("the area", area.get::<square_meter>())?;
    let coverage = positive("the coverage", coverage_m2_l)?;
    Ok(Volume::new::<liter>(area * f64::from(coats) / coverage))
}

/// Containers of a size for a volume, rounded up.
///
/// # Errors
/// A container of no size, a volume below zero, or more containers than anyone buys.
pub fn containers(volume: Volume, size: Volume) -> Result<u64, QuantityError> {
    bags(volume, 0.0, size)
}

/// Concrete for slabs to be replaced, with its waste share.
///
/// # Errors
/// An area, thickness or waste below zero.
pub fn replacement_volume(
    area: Area,
    thickness: Length,
    waste_share: f64,
) -> Result<Volume, QuantityError> {
    not_negative("the area", area.get::<square_meter>())?;
    not_negative("the thickness", thickness.get::<meter>())?;
    let waste = not_negative("the waste", waste_share)?;
    Ok(area * thickness * (1.0 + waste))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::area::square_foot;
    use uom::si::length::inch;
    use uom::si::volume::cubic_foot;

    fn ft3(x: f64) -> Volume {
        Volume::new::<cubic_foot>(x)
    }

    #[test]
    fn a_bag_that_yields_nothing_is_an_error_and_not_a_panic() {
        assert!(matches!(
            bags(ft3(1.0), 0.1, ft3(0.0)),
            Err(QuantityError::NotPositive { .. })
        ));
        assert!(matches!(
            bags(ft3(-1.0), 0.1, ft3(0.5)),
            Err(QuantityError::Negative { .. })
        ));
        assert!(matches!(
            bags(ft3(f64::NAN), 0.1, ft3(0.5)),
            Err(QuantityError::Negative { .. })
        ));
        assert!(matches!(
            bags(ft3(1e12), 0.1, ft3(0.5)),
            Err(QuantityError::TooMany { .. })
        ));
        assert_eq!(bags(ft3(0.0), 0.1, ft3(0.5)), Ok(0));
    }

    #[test]
    fn a_whole_number_of_bags_is_not_rounded_up_by_binary_dust() {
        // 0.1 + 0.2 is a little more than 0.3 in binary.
        assert_eq!(bags(ft3(0.1) + ft3(0.2), 0.0, ft3(0.1)), Ok(3));
    }

    #[test]
    fn the_last_batch_takes_the_rest() {
        // 31 bags by two: 15 full batches and a single one.
        let b = batches(31, 2).unwrap();
        assert_eq!((b.len(), b[15]), (16, 1));
        assert_eq!(batches(0, 2).unwrap(), Vec::<u64>::new());
        assert!(batches(4, 0).is_err());
    }

    #[test]
    fn a_slope_takes_the_dry_end() {
        let q = |x: f64| Volume::new::<liter>(x);
        let flat = batch_water(2, q(3.0), q(3.5), false);
        let slope = batch_water(2, q(3.5), q(3.0), true);
        assert!((flat.start.get::<liter>() - 6.5).abs() < 1e-9);
        assert!((slope.start.get::<liter>() - 6.0).abs() < 1e-9);
        assert!((slope.greatest.get::<liter>() - 7.0).abs() < 1e-9);
    }

    #[test]
    fn a_pattern_of_square_stones_has_two_runs_for_each_side() {
        // 1 ft² with 6 in cells: 2 ft of groove each way.
        let run = pattern_groove_run(
            Area::new::<square_foot>(1.0),
            Length::new::<inch>(6.0),
            Length::new::<inch>(6.0),
        );
        assert!((run.unwrap().get::<uom::si::length::foot>() - 4.0).abs() < 1e-9);
        // A quarter circle in its square: three quarters and a bit.
        assert!((0.78..0.79).contains(&GrooveShape::Round.share()));
    }
}
