//! Weather at the slab: evaporation, dew point, wet bulb, heat index, wind, sun.
//!
//! Pure formulas with their published source and range. Relative humidity is a share (0 to 1) over
//! liquid water, as weather services report it. Whether a value is good or bad is for the caller:
//! no limit stands here.

use serde::Serialize;
use solar_positioning::{
    Location, RefractionCorrection, SolarPositions, delta_t, time::JulianDate,
};
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit, kelvin};
use uom::si::velocity::{kilometer_per_hour, mile_per_hour};

use crate::units::{Length, Pressure, Temperature, Velocity};

/// Kilograms in a square metre for one pound in a square foot (exact definitions of both).
pub const KG_M2_PER_LB_FT2: f64 = 0.453_592_37 / (0.3048 * 0.3048);

/// Rate at which a fresh surface loses water.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
pub struct LossRate {
    /// Kilograms of water from a square metre in an hour.
    pub kg_m2_h: f64,
}

impl LossRate {
    /// From kilograms on a square metre an hour.
    pub fn from_kg_m2_h(kg_m2_h: f64) -> Self {
        LossRate { kg_m2_h }
    }

    /// From pounds on a square foot an hour.
    pub fn from_lb_ft2_h(lb_ft2_h: f64) -> Self {
        LossRate {
            kg_m2_h: lb_ft2_h * KG_M2_PER_LB_FT2,
        }
    }

    /// In pounds on a square foot an hour.
    pub fn lb_ft2_h(self) -> f64 {
        self.kg_m2_h / KG_M2_PER_LB_FT2
    }
}

/// Which published formula gives the evaporation rate. Printed with every rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EvaporationFormula {
    /// Uno, ACI Materials Journal 95-M34 (1998).
    Uno,
    /// Menzel (1954), behind the ACI 305R chart.
    Menzel,
}

impl EvaporationFormula {
    /// For pages.
    pub fn name(self) -> &'static str {
        match self {
            EvaporationFormula::Uno => "Uno 1998 (ACI Materials Journal 95-M34)",
            EvaporationFormula::Menzel => "Menzel 1954 (basis of the ACI 305R chart)",
        }
    }

    /// The rate by this formula. See [`evaporation_uno`] and [`evaporation_menzel`].
    pub fn rate(
        self,
        surface: Temperature,
        air: Temperature,
        humidity: f64,
        wind: Velocity,
    ) -> LossRate {
        match self {
            EvaporationFormula::Uno => evaporation_uno(surface, air, humidity, wind),
            EvaporationFormula::Menzel => evaporation_menzel(surface, air, humidity, wind),
        }
    }
}

/// Evaporation from a fresh surface by Uno's formula in its US form:
/// E = (Tc^2.5 − r·Ta^2.5)(1 + 0.4V)·10⁻⁶ with °F, mph and lb/ft²/h.
///
/// Source: Uno, ACI Materials Journal 95-M34 (1998). Chart range about 40 to 100 °F and wind to
/// 25 mph; real rates scatter about ±40 % around it (Hover 2020, ACI SP-338). `wind` is the wind
/// about 0.5 m above the surface, see [`wind_at_height`]. Condensation counts as no loss.
/// Temperatures below 0 °F count as 0 °F, where the power has no meaning.
pub fn evaporation_uno(
    surface: Temperature,
    air: Temperature,
    humidity: f64,
    wind: Velocity,
) -> LossRate {
    let power = |t: Temperature| t.get::<degree_fahrenheit>().max(0.0).powf(2.5);
    let lb = (power(surface) - share(humidity) * power(air))
        * (1.0 + 0.4 * wind.get::<mile_per_hour>().max(0.0))
        * 1e-6;
    LossRate::from_lb_ft2_h(lb.max(0.0))
}

/// Uno's formula with the exact constants of the US form written out in SI:
/// E = 5.27507([Tc+17.778]^2.5 − r[Ta+17.778]^2.5)(V + 4.02336)·10⁻⁶ with °C, km/h and kg/m²/h.
///
/// Kept beside the US form as a check on both. The rounded SI form of the paper (5; 18; 4) runs
/// about 4 % lower and is not used.
pub fn evaporation_uno_si(
    surface: Temperature,
    air: Temperature,
    humidity: f64,
    wind: Velocity,
) -> LossRate {
    let power = |t: Temperature| (t.get::<degree_celsius>() + 160.0 / 9.0).max(0.0).powf(2.5);
    let rate = 5.275_07
        * (power(surface) - share(humidity) * power(air))
        * (wind.get::<kilometer_per_hour>().max(0.0) + 4.023_36)
        * 1e-6;
    LossRate::from_kg_m2_h(rate.max(0.0))
}

/// Evaporation by Menzel's formula: W = 0.44(e0 − ea)(0.253 + 0.096V) with vapour pressures in
/// psi, mph and lb/ft²/h.
///
/// Source: Menzel 1954, behind the chart of ACI 305R. The pressures are psi: with inches of
/// mercury the result would double. `wind` as in [`evaporation_uno`].
pub fn evaporation_menzel(
    surface: Temperature,
    air: Temperature,
    humidity: f64,
    wind: Velocity,
) -> LossRate {
    const KPA_PER_PSI: f64 = 6.894_757_293;
    let (e0, ea) = (
        vapour_pressure_uno(surface),
        share(humidity) * vapour_pressure_uno(air),
    );
    let psi = (e0 - ea) / KPA_PER_PSI;
    LossRate::from_lb_ft2_h(
        (0.44 * psi * (0.253 + 0.096 * wind.get::<mile_per_hour>().max(0.0))).max(0.0),
    )
}

/// Menzel's formula in SI: W = 0.315(e0 − ea)(0.253 + 0.060V) with kPa, km/h and kg/m²/h.
///
/// As restated by Uno (1998); its rounded constants run about 2 % above the US form.
pub fn evaporation_menzel_si(
    surface: Temperature,
    air: Temperature,
    humidity: f64,
    wind: Velocity,
) -> LossRate {
    let kpa = vapour_pressure_uno(surface) - share(humidity) * vapour_pressure_uno(air);
    LossRate::from_kg_m2_h(
        (0.315 * kpa * (0.253 + 0.060 * wind.get::<kilometer_per_hour>().max(0.0))).max(0.0),
    )
}

/// Saturation vapour pressure over water in kPa: 0.61·exp(17.3T/(237.3 + T)), T in °C.
///
/// As used by Uno (1998) with Menzel's formula.
fn vapour_pressure_uno(t: Temperature) -> f64 {
    let c = celsius(t);
    0.61 * (17.3 * c / (237.3 + c)).exp()
}

/// Share of its mix water that a layer loses: rate × hours / water in the layer.
///
/// `water_kg_m2` is the mix water in a square metre of the layer. A thin overlay holds so little
/// that a rate harmless to a slab empties it.
pub fn water_lost_share(rate: LossRate, hours: f64, water_kg_m2: f64) -> Option<f64> {
    (water_kg_m2 > 0.0 && hours >= 0.0).then(|| rate.kg_m2_h * hours / water_kg_m2)
}

/// Magnus constants (a, b in °C, A in hPa) over water, −45 to 60 °C. Source: WMO-No. 8.
const MAGNUS_WATER: (f64, f64, f64) = (17.62, 243.12, 6.112);
/// Magnus constants over ice, −65 to 0 °C. Source: WMO-No. 8 (from memory).
const MAGNUS_ICE: (f64, f64, f64) = (22.46, 272.62, 6.112);

/// Saturation vapour pressure over water by the Magnus formula with the constants of WMO-No. 8.
///
/// −45 to 60 °C.
pub fn saturation_pressure(t: Temperature) -> Pressure {
    let (a, b, e) = MAGNUS_WATER;
    let c = celsius(t);
    Pressure::new::<pascal>(100.0 * e * (a * c / (b + c)).exp())
}

/// Temperature at which the air's water settles on a surface: Td = bα/(a − α) with
/// α = ln r + aT/(b + T), Magnus constants of WMO-No. 8.
///
/// Below freezing the water settles as frost, so the frost point (constants over ice) is given.
/// `None` for dry air (humidity 0 has no dew point) or a humidity that is no number.
pub fn dew_point(air: Temperature, humidity: f64) -> Option<Temperature> {
    let r = share(humidity);
    let (a, b, _) = MAGNUS_WATER;
    let t = celsius(air);
    // Of nothing the logarithm has no end, and what follows from it is no number.
    let alpha = r.ln() + a * t / (b + t);
    let water = b * alpha / (a - alpha);
    let dew = if water < 0.0 {
        let (ai, bi, _) = MAGNUS_ICE;
        // Both Magnus curves pass through the same pressure at 0 °C, so alpha carries over.
        bi * alpha / (ai - alpha)
    } else {
        water
    };
    dew.is_finite()
        .then(|| Temperature::new::<degree_celsius>(dew))
}

/// Relative humidity (share) at an air temperature that holds the water of a given dew point.
///
/// Magnus over water on both sides: weather services report dew points over water even in frost.
pub fn humidity_from_dew_point(air: Temperature, dew: Temperature) -> f64 {
    (saturation_pressure(dew) / saturation_pressure(air))
        .get::<uom::si::ratio::ratio>()
        .clamp(0.0, 1.0)
}

/// Wet bulb temperature by Stull's regression at sea-level pressure.
///
/// Source: Stull, Journal of Applied Meteorology and Climatology 2011. Humidity 5 to 99 %, −20 to
/// 50 °C; error −1.0 to +0.65 °C. Outside that range it is not given.
pub fn wet_bulb_stull(air: Temperature, humidity: f64) -> Option<Temperature> {
    let (t, r) = (air.get::<degree_celsius>(), humidity * 100.0);
    if !(5.0..=99.0).contains(&r) || !(-20.0..=50.0).contains(&t) {
        return None;
    }
    let tw = t * (0.151_977 * (r + 8.313_659).sqrt()).atan() + (t + r).atan()
        - (r - 1.676_331).atan()
        + 0.003_918_38 * r.powf(1.5) * (0.023_101 * r).atan()
        - 4.686_035;
    Some(Temperature::new::<degree_celsius>(tw))
}

/// Wet bulb temperature from the energy balance of moist air, solved by halving.
///
/// Source: ASHRAE Handbook of Fundamentals, psychrometrics, SI forms above and below freezing
/// (from memory; held against a reference library in the tests). `pressure` is the air pressure,
/// 101 325 Pa at sea level. −20 to 60 °C.
pub fn wet_bulb(air: Temperature, humidity: f64, pressure: Pressure) -> Option<Temperature> {
    let (t, r, p) = (
        air.get::<degree_celsius>(),
        share(humidity),
        pressure.get::<pascal>(),
    );
    if !(-20.0..=60.0).contains(&t) || r.is_nan() || p.is_nan() || p <= 20_000.0 {
        return None;
    }
    let ratio = |e: f64| 0.621_945 * e / (p - e);
    let over = |c: f64| {
        let (a, b, e) = if c < 0.0 { MAGNUS_ICE } else { MAGNUS_WATER };
        100.0 * e * (a * c / (b + c)).exp()
    };
    let wanted = ratio(r * over(t));
    // Water in the air if `w` were the wet bulb: rises with w.
    let held = |w: f64| {
        let saturated = ratio(over(w));
        if w >= 0.0 {
            ((2501.0 - 2.326 * w) * saturated - 1.006 * (t - w)) / (2501.0 + 1.86 * t - 4.186 * w)
        } else {
            ((2830.0 - 0.24 * w) * saturated - 1.006 * (t - w)) / (2830.0 + 1.86 * t - 2.1 * w)
        }
    };
    // It lies between the dew point and the air. Around freezing the two forms overlap and both a
    // wet and an iced bulb are solutions; halving from these ends picks one as other libraries do.
    let mut lo = dew_point(air, humidity).map_or(t - 60.0, celsius);
    let mut hi = t;
    for _ in 0..60 {
        let middle = (lo + hi) / 2.0;
        if held(middle) > wanted {
            hi = middle;
        } else {
            lo = middle;
        }
    }
    Some(Temperature::new::<degree_celsius>((lo + hi) / 2.0))
}

/// Heat index by the plain regression (°F, humidity in percent), without any adjustment.
///
/// Source: Rothfusz, NWS Southern Region SR 90-23 (1990). The printed NWS chart is this curve.
/// Meant for 80 °F and more with 40 % and more; stated error ±1.3 °F.
pub fn heat_index_plain(air: Temperature, humidity: f64) -> Temperature {
    let (t, r) = (air.get::<degree_fahrenheit>(), share(humidity) * 100.0);
    let hi = -42.379 + 2.049_015_23 * t + 10.143_331_27 * r
        - 0.224_755_41 * t * r
        - 6.837_83e-3 * t * t
        - 5.481_717e-2 * r * r
        + 1.228_74e-3 * t * t * r
        + 8.528_2e-4 * t * r * r
        - 1.99e-6 * t * t * r * r;
    Temperature::new::<degree_fahrenheit>(hi)
}

/// Heat index in the shade by the whole procedure of the US National Weather Service: the simple
/// form below 80 °F, the regression above, with the adjustments for dry and for damp air.
///
/// Source: NWS Weather Prediction Center, heat index equation. Full sun can add up to 15 °F (OSHA).
pub fn heat_index(air: Temperature, humidity: f64) -> Temperature {
    let (t, r) = (air.get::<degree_fahrenheit>(), share(humidity) * 100.0);
    let simple = 0.5 * (t + 61.0 + 1.2 * (t - 68.0) + 0.094 * r);
    let averaged = (simple + t) / 2.0;
    let hi = if averaged < 80.0 {
        averaged
    } else {
        let plain = heat_index_plain(air, humidity).get::<degree_fahrenheit>();
        if r < 13.0 && (80.0..=112.0).contains(&t) {
            plain - (13.0 - r) / 4.0 * ((17.0 - (t - 95.0).abs()) / 17.0).max(0.0).sqrt()
        } else if r > 85.0 && (80.0..=87.0).contains(&t) {
            plain + (r - 85.0) / 10.0 * ((87.0 - t) / 5.0)
        } else {
            plain
        }
    };
    Temperature::new::<degree_fahrenheit>(hi)
}

/// Wind brought from one height to another by the power law V·(z/z₀)^exponent.
///
/// Open ground: exponent 1/7 (engineering practice). From a 10 m forecast to 0.5 m this gives 0.65.
/// Heights of zero or below give no wind.
pub fn wind_at_height(
    wind: Velocity,
    measured_at: Length,
    wanted_at: Length,
    exponent: f64,
) -> Velocity {
    let (from, to) = (measured_at.get::<meter>(), wanted_at.get::<meter>());
    if from > 0.0 && to > 0.0 {
        wind * (to / from).powf(exponent)
    } else {
        wind * 0.0
    }
}

/// Where the sun stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sun {
    /// Degrees above the horizon; below it negative.
    pub elevation_deg: f64,
    /// Degrees clockwise from north.
    pub azimuth_deg: f64,
}

/// Sun position from Unix seconds (UTC), latitude (north positive) and longitude (east positive).
///
/// NREL Solar Position Algorithm (Reda and Andreas 2003) by way of a library; at sea level, bending
/// of light left out unless `refracted`. `None` for places off the globe or years off the method.
pub fn sun(
    unix_seconds: i64,
    latitude_deg: f64,
    longitude_deg: f64,
    refracted: bool,
) -> Option<Sun> {
    let days = unix_seconds as f64 / 86_400.0;
    let year = 1970.0 + days / 365.242_5;
    let time = JulianDate::new(2_440_587.5 + days, delta_t::estimate(year).ok()?).ok()?;
    let place = Location {
        latitude: latitude_deg,
        longitude: longitude_deg,
    };
    let bend = refracted.then(RefractionCorrection::standard);
    let at = SolarPositions::new()
        .at_from_julian(time, place, 0.0, bend)
        .ok()?;
    Some(Sun {
        elevation_deg: at.elevation_angle(),
        azimuth_deg: at.azimuth(),
    })
}

/// Length of the shadow of a wall on level ground. `None` while the sun is down.
pub fn shadow_length(wall: Length, sun: Sun) -> Option<Length> {
    (sun.elevation_deg > 0.0).then(|| wall / sun.elevation_deg.to_radians().tan())
}

/// Global irradiance of a clear sky on level ground, W/m²: 1098·cos Z·exp(−0.057/cos Z).
///
/// Source: Haurwitz 1945 (from memory). A bound for the sun's heat, not a forecast.
pub fn clear_sky_w_m2(sun: Sun) -> f64 {
    let cos_z = sun.elevation_deg.to_radians().sin();
    if cos_z <= 0.0 {
        0.0
    } else {
        1098.0 * cos_z * (-0.057 / cos_z).exp()
    }
}

/// What heats and cools a dry surface in the sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunnySurface {
    /// Share of the sunlight that is taken in: 1 − reflectance.
    pub absorptance: f64,
    /// Thermal emittance, about 0.9 for concrete.
    pub emittance: f64,
    /// Sunlight on the surface, W/m².
    pub sunlight_w_m2: f64,
    /// Convection coefficient, W/m²K: 5, 12 or 30 for low, medium or high wind in ASTM E1980.
    pub convection_w_m2_k: f64,
    /// Air temperature.
    pub air: Temperature,
    /// Radiating temperature of the sky, in ASTM E1980 10 K below the air.
    pub sky: Temperature,
}

/// Greatest temperature that sunlight can give a surface: the steady state
/// αI = εσ(T⁴ − Tsky⁴) + hc(T − Tair), heat into the slab left out.
///
/// Source: ASTM E1980. An upper bound: a slab on the ground carries heat away and stays cooler by
/// an amount no published formula gives. Measure the slab before relying on this.
pub fn sunny_surface_bound(s: SunnySurface) -> Option<Temperature> {
    const SIGMA: f64 = 5.670_374_419e-8;
    let (air, sky) = (s.air.get::<kelvin>(), s.sky.get::<kelvin>());
    let gain = s.absorptance * s.sunlight_w_m2;
    let parts = [air, sky, gain, s.emittance, s.convection_w_m2_k];
    if parts.iter().any(|x| !x.is_finite() || *x < 0.0) || s.convection_w_m2_k == 0.0 {
        return None;
    }
    let balance = |t: f64| {
        s.emittance * SIGMA * (t.powi(4) - sky.powi(4)) + s.convection_w_m2_k * (t - air) - gain
    };
    let (mut lo, mut hi) = (air.min(sky), air.max(sky) + gain / s.convection_w_m2_k);
    for _ in 0..80 {
        let middle = (lo + hi) / 2.0;
        if balance(middle) > 0.0 {
            hi = middle;
        } else {
            lo = middle;
        }
    }
    Some(Temperature::new::<kelvin>((lo + hi) / 2.0))
}

/// What counts as a freeze-thaw day or cycle. The counts differ: name the one used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "rule")]
pub enum FreezeThawRule {
    /// A day whose least temperature is below 0 °C and whose greatest is above (from memory;
    /// common in pavement climate data).
    CrossesZero,
    /// A day that reaches 0 °C or more and `freeze_c` or less. Schmidlin, Dethier and Eggleston
    /// 1987 take −2.2 °C (28 °F) in a shelter at 1.5 m.
    ReachesBoth {
        /// Freezing temperature, °C.
        freeze_c: f64,
    },
    /// Cycles: frozen below `freeze_c` and then thawed above 0 °C, least before greatest each day.
    Cycles {
        /// Freezing temperature, °C.
        freeze_c: f64,
    },
}

/// Counts freeze-thaw days or cycles from the least and greatest temperature (°C) of each day.
pub fn freeze_thaws(days_c: &[(f64, f64)], rule: FreezeThawRule) -> usize {
    match rule {
        FreezeThawRule::CrossesZero => days_c
            .iter()
            .filter(|(lo, hi)| *lo < 0.0 && *hi > 0.0)
            .count(),
        FreezeThawRule::ReachesBoth { freeze_c } => days_c
            .iter()
            .filter(|(lo, hi)| *lo <= freeze_c && *hi >= 0.0)
            .count(),
        FreezeThawRule::Cycles { freeze_c } => {
            let (mut frozen, mut cycles) = (false, 0);
            for (lo, hi) in days_c {
                frozen |= *lo < freeze_c;
                if frozen && *hi > 0.0 {
                    frozen = false;
                    cycles += 1;
                }
            }
            cycles
        }
    }
}

/// Celsius held above the pole of the Magnus curve, so that no input divides by zero.
fn celsius(t: Temperature) -> f64 {
    t.get::<degree_celsius>().max(-200.0)
}

fn share(humidity: f64) -> f64 {
    if humidity.is_nan() {
        humidity
    } else {
        humidity.clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn f(x: f64) -> Temperature {
        Temperature::new::<degree_fahrenheit>(x)
    }

    #[test]
    fn condensation_is_no_loss() {
        let calm = Velocity::new::<mile_per_hour>(0.0);
        assert_eq!(evaporation_uno(f(40.0), f(90.0), 0.9, calm).kg_m2_h, 0.0);
        assert_eq!(evaporation_menzel(f(40.0), f(90.0), 0.9, calm).kg_m2_h, 0.0);
    }

    #[test]
    fn the_two_forms_of_uno_agree_to_a_few_parts_in_a_million() {
        for (tc, ta, r, v) in [
            (87.0, 80.0, 0.5, 12.0),
            (60.0, 40.0, 1.0, 3.0),
            (100.0, 95.0, 0.2, 25.0),
        ] {
            let wind = Velocity::new::<mile_per_hour>(v);
            let us = evaporation_uno(f(tc), f(ta), r, wind).kg_m2_h;
            let si = evaporation_uno_si(f(tc), f(ta), r, wind).kg_m2_h;
            assert!((us / si - 1.0).abs() < 5e-6, "{us} {si}");
        }
    }

    #[test]
    fn dry_air_has_no_dew_point_and_damp_air_sits_at_it() {
        assert_eq!(dew_point(f(70.0), 0.0), None);
        assert_eq!(dew_point(f(70.0), f64::NAN), None);
        let t = dew_point(f(70.0), 1.0).unwrap().get::<degree_fahrenheit>();
        assert!((t - 70.0).abs() < 1e-9);
        let back = humidity_from_dew_point(f(70.0), dew_point(f(70.0), 0.4).unwrap());
        assert!((back - 0.4).abs() < 1e-12);
    }

    #[test]
    fn without_sun_the_surface_lies_between_sky_and_air() {
        let air = f(70.0);
        let surface = SunnySurface {
            absorptance: 0.7,
            emittance: 0.9,
            sunlight_w_m2: 0.0,
            convection_w_m2_k: 12.0,
            air,
            sky: f(52.0),
        };
        let t = sunny_surface_bound(surface).unwrap();
        assert!(t < air && t > f(52.0));
        assert_eq!(
            sunny_surface_bound(SunnySurface {
                convection_w_m2_k: 0.0,
                ..surface
            }),
            None
        );
    }

    #[test]
    fn shadows_are_as_long_as_the_wall_at_forty_five_degrees() {
        let wall = Length::new::<meter>(2.0);
        let at = |e| {
            shadow_length(
                wall,
                Sun {
                    elevation_deg: e,
                    azimuth_deg: 180.0,
                },
            )
        };
        assert!((at(45.0).unwrap().get::<meter>() - 2.0).abs() < 1e-12);
        assert_eq!(at(-1.0), None);
    }
}
