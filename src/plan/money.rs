//! Money: price lines in decimals, cost ranges, present value, equivalent annual cost, break-even
//! and which input flips the choice.
//!
//! Amounts are decimals; rates, lives and factors are binary numbers. Rates are shares a year
//! (0.03 for 3 %), real unless said otherwise. Ranges stay ranges: see [`outward`].

use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};
use thiserror::Error;

/// Why an amount cannot be read or worked out.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MoneyError {
    /// The text is no decimal amount.
    #[error("`{text}` is no amount; write digits with a point, such as `1250.00`")]
    NotAnAmount {
        /// As written.
        text: String,
    },
    /// The amount names another currency than the price book.
    #[error("`{text}` is in {found}, but the price book is in {expected}; use one currency")]
    OtherCurrency {
        /// As written.
        text: String,
        /// Code found.
        found: String,
        /// Code of the price book.
        expected: String,
    },
    /// Low, likely and high are not in this order.
    #[error("low {low}, likely {likely} and high {high} must stand in this order")]
    OutOfOrder {
        /// Low amount.
        low: Decimal,
        /// Likely amount.
        likely: Decimal,
        /// High amount.
        high: Decimal,
    },
    /// An amount below zero where a price stands.
    #[error("a price must not be less than zero, not {amount}")]
    Negative {
        /// The amount.
        amount: Decimal,
    },
    /// The result is greater than decimals can hold.
    #[error("the amount is too large; check quantities and prices")]
    TooLarge,
}

/// Reads a decimal amount; a three-letter currency code before or after it must be the price
/// book's. Thousands may be set apart with commas or spaces.
///
/// # Errors
/// Text that is no amount, or another currency.
pub fn read_amount(text: &str, currency: &str) -> Result<Decimal, MoneyError> {
    let bad = || MoneyError::NotAnAmount {
        text: text.to_owned(),
    };
    let trimmed = text.trim();
    let (code, digits): (String, String) = trimmed
        .chars()
        .partition(|c| c.is_alphabetic() || "$€£¥".contains(*c));
    if !code.is_empty() && !code.eq_ignore_ascii_case(currency) {
        // The code must stand as a whole before or after the digits to be a currency.
        let around = trimmed.starts_with(&code) || trimmed.ends_with(&code);
        return Err(if around {
            MoneyError::OtherCurrency {
                text: text.to_owned(),
                found: code,
                expected: currency.to_owned(),
            }
        } else {
            bad()
        });
    }
    let digits = digits.trim();
    let plain = without_thousands(digits).ok_or_else(bad)?;
    let amount = Decimal::from_str_exact(&plain).map_err(|_| bad())?;
    if amount.is_sign_negative() && !amount.is_zero() {
        Err(MoneyError::Negative { amount })
    } else {
        Ok(amount)
    }
}

/// Digits without their thousands marks, or `None` where the marks are not in groups of three.
fn without_thousands(digits: &str) -> Option<String> {
    let (whole, rest) = digits
        .split_once('.')
        .map_or((digits, None), |(w, r)| (w, Some(r)));
    let mut groups = whole.split([',', ' ']);
    let mut plain = groups.next()?.to_owned();
    let mut grouped = false;
    for group in groups {
        if group.len() != 3 || plain.trim_start_matches('-').len() > 3 && !grouped {
            return None;
        }
        grouped = true;
        plain += group;
    }
    if let Some(rest) = rest {
        plain.push('.');
        plain += rest;
    }
    Some(plain)
}

/// A line of the price book for a quantity: low, likely and high.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CostLine {
    /// What is bought.
    pub item: String,
    /// How much, in the line's own unit.
    pub quantity: Decimal,
    /// Low price of a unit.
    pub low: Decimal,
    /// Most likely price of a unit.
    pub likely: Decimal,
    /// High price of a unit.
    pub high: Decimal,
}

/// Low, likely and high amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Amounts {
    /// Low.
    pub low: Decimal,
    /// Most likely.
    pub likely: Decimal,
    /// High.
    pub high: Decimal,
}

impl CostLine {
    /// The line's amounts.
    ///
    /// # Errors
    /// Prices out of order or below zero, or an amount too large.
    pub fn amounts(&self) -> Result<Amounts, MoneyError> {
        if self.low > self.likely || self.likely > self.high {
            return Err(MoneyError::OutOfOrder {
                low: self.low,
                likely: self.likely,
                high: self.high,
            });
        }
        if let Some(amount) = [self.low, self.quantity]
            .into_iter()
            .find(|a| *a < Decimal::ZERO)
        {
            return Err(MoneyError::Negative { amount });
        }
        let times = |price: Decimal| self.quantity.checked_mul(price).ok_or(MoneyError::TooLarge);
        Ok(Amounts {
            low: times(self.low)?,
            likely: times(self.likely)?,
            high: times(self.high)?,
        })
    }
}

/// Adds amounts column by column.
///
/// # Errors
/// A sum too large for decimals.
pub fn add_up(all: &[Amounts]) -> Result<Amounts, MoneyError> {
    let zero = Amounts {
        low: Decimal::ZERO,
        likely: Decimal::ZERO,
        high: Decimal::ZERO,
    };
    all.iter().try_fold(zero, |sum, a| {
        let plus = |x: Decimal, y: Decimal| x.checked_add(y).ok_or(MoneyError::TooLarge);
        Ok(Amounts {
            low: plus(sum.low, a.low)?,
            likely: plus(sum.likely, a.likely)?,
            high: plus(sum.high, a.high)?,
        })
    })
}

/// An amount to the cent, halves away from zero.
pub fn to_cents(amount: Decimal) -> Decimal {
    let mut cents = amount.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
    // Two decimals in print even where they are zero; an amount too large for them stays as it is.
    cents.rescale(2);
    cents
}

/// An amount times a binary factor, exact where the factor is.
///
/// # Errors
/// A factor that is no number, or a result too large.
pub fn times(amount: Decimal, factor: f64) -> Result<Decimal, MoneyError> {
    let factor = Decimal::from_f64(factor).ok_or(MoneyError::TooLarge)?;
    amount.checked_mul(factor).ok_or(MoneyError::TooLarge)
}

/// Net, tax, total and deposit of an offer, to the cent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Bill {
    /// Before tax.
    pub net: Decimal,
    /// Tax.
    pub tax: Decimal,
    /// With tax.
    pub total: Decimal,
    /// Asked at signing.
    pub deposit: Decimal,
}

/// Adds tax and works out the deposit; shares between 0 and 1.
///
/// # Errors
/// An amount too large.
pub fn bill(net: Decimal, tax_share: f64, deposit_share: f64) -> Result<Bill, MoneyError> {
    let net = to_cents(net);
    let tax = to_cents(times(net, tax_share)?);
    let total = net.checked_add(tax).ok_or(MoneyError::TooLarge)?;
    Ok(Bill {
        net,
        tax,
        total,
        deposit: to_cents(times(total, deposit_share)?),
    })
}

/// A number known as low, most likely and high.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// Low.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High.
    pub high: f64,
}

impl Estimate {
    /// An estimate in order; `None` when low ≤ likely ≤ high does not hold.
    pub fn new(low: f64, likely: f64, high: f64) -> Option<Self> {
        (low <= likely && likely <= high && low.is_finite() && high.is_finite())
            .then_some(Estimate { low, likely, high })
    }

    /// A number known exactly.
    pub fn exact(x: f64) -> Self {
        Estimate {
            low: x,
            likely: x,
            high: x,
        }
    }
}

impl From<Amounts> for Estimate {
    fn from(a: Amounts) -> Self {
        let f = |d: Decimal| d.to_f64().unwrap_or(f64::MAX);
        Estimate {
            low: f(a.low),
            likely: f(a.likely),
            high: f(a.high),
        }
    }
}

/// How low, likely and high become mean and spread. The two differ: name the one used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpreadRule {
    /// Mean (a + 4m + b)/6, deviation (b − a)/6.
    Pert,
    /// Triangular distribution: mean (a + m + b)/3, variance (a² + m² + b² − am − ab − mb)/18.
    Triangular,
}

/// Mean and variance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Moments {
    /// Mean.
    pub mean: f64,
    /// Variance.
    pub variance: f64,
}

impl Moments {
    /// Standard deviation.
    pub fn deviation(self) -> f64 {
        self.variance.max(0.0).sqrt()
    }

    /// Value that is stayed below with probability `level`, taking the sum for normal.
    pub fn quantile(self, level: f64) -> Option<f64> {
        if self.variance <= 0.0 {
            return (0.0..=1.0).contains(&level).then_some(self.mean);
        }
        if !(level > 0.0 && level < 1.0) {
            return None;
        }
        Normal::new(self.mean, self.deviation())
            .ok()
            .map(|n| n.inverse_cdf(level))
    }

    /// Probability of staying at or below `x`, taking the sum for normal.
    pub fn share_below(self, x: f64) -> Option<f64> {
        if self.variance <= 0.0 {
            return Some(if x >= self.mean { 1.0 } else { 0.0 });
        }
        Normal::new(self.mean, self.deviation())
            .ok()
            .map(|n| n.cdf(x))
    }
}

impl SpreadRule {
    /// Mean and variance of an estimate.
    pub fn moments(self, e: Estimate) -> Moments {
        let (a, m, b) = (e.low, e.likely, e.high);
        match self {
            SpreadRule::Pert => Moments {
                mean: (a + 4.0 * m + b) / 6.0,
                variance: ((b - a) / 6.0).powi(2),
            },
            SpreadRule::Triangular => Moments {
                mean: (a + m + b) / 3.0,
                variance: ((a * a + m * m + b * b - a * m - a * b - m * b) / 18.0).max(0.0),
            },
        }
    }

    /// Mean and variance of a sum of independent estimates.
    pub fn sum<'a>(self, all: impl IntoIterator<Item = &'a Estimate>) -> Moments {
        all.into_iter().map(|e| self.moments(*e)).fold(
            Moments {
                mean: 0.0,
                variance: 0.0,
            },
            |s, m| Moments {
                mean: s.mean + m.mean,
                variance: s.variance + m.variance,
            },
        )
    }
}

/// Value of a triangular distribution that is stayed below with probability `level` (0 to 1).
pub fn triangular_quantile(e: Estimate, level: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&level) {
        return None;
    }
    let (a, m, b) = (e.low, e.likely, e.high);
    if b <= a {
        return Some(a);
    }
    let rising = (m - a) / (b - a);
    Some(if level <= rising {
        a + (level * (b - a) * (m - a)).sqrt()
    } else {
        b - ((1.0 - level) * (b - a) * (b - m)).sqrt()
    })
}

/// Worth today of 1 paid after `years`: (1 + d)^−n. `None` for a rate of −100 % or less.
pub fn single_present_value(rate: f64, years: f64) -> Option<f64> {
    (rate > -1.0)
        .then(|| (1.0 + rate).powf(-years))
        .filter(|x| x.is_finite())
}

/// Worth today of 1 at the end of each of `years` years: [(1 + d)^n − 1]/[d(1 + d)^n]; n at rate 0.
pub fn uniform_present_value(rate: f64, years: f64) -> Option<f64> {
    if !(rate > -1.0 && years >= 0.0) {
        return None;
    }
    // ln_1p and exp_m1 keep tiny rates exact.
    let x = if rate == 0.0 {
        years
    } else {
        -(-years * rate.ln_1p()).exp_m1() / rate
    };
    x.is_finite().then_some(x)
}

/// Yearly payment that repays 1 in `years` years: the inverse of [`uniform_present_value`].
pub fn capital_recovery(rate: f64, years: f64) -> Option<f64> {
    uniform_present_value(rate, years)
        .filter(|u| *u > 0.0)
        .map(|u| 1.0 / u)
}

/// Worth today of a yearly cost that is 1 now and grows by `growth` a year:
/// UPV* = (1 + e)/(d − e)·[1 − ((1 + e)/(1 + d))^n], and n where both rates are equal.
///
/// Source: GSA P-100.
pub fn growing_present_value(growth: f64, rate: f64, years: f64) -> Option<f64> {
    if !(rate > -1.0 && growth > -1.0 && years >= 0.0) {
        return None;
    }
    let x = if (rate - growth).abs() < 1e-12 {
        years
    } else {
        (1.0 + growth) / (rate - growth) * (1.0 - ((1.0 + growth) / (1.0 + rate)).powf(years))
    };
    x.is_finite().then_some(x)
}

/// Real rate behind a nominal one: e = (E − I)/(1 + I), `inflation` above −100 %.
pub fn real_rate(nominal: f64, inflation: f64) -> Option<f64> {
    (inflation > -1.0).then(|| (nominal - inflation) / (1.0 + inflation))
}

/// Nominal rate of a real one: E = e + I + eI.
pub fn nominal_rate(real: f64, inflation: f64) -> f64 {
    real + inflation + real * inflation
}

/// A payment in some year from now.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Payment {
    /// Years from now.
    pub year: f64,
    /// Amount; receipts such as a residual value are negative.
    pub amount: Decimal,
}

/// Worth today of some payments. At rate 0 it is their plain sum.
///
/// # Errors
/// A rate of −100 % or less, or an amount too large.
pub fn present_value(payments: &[Payment], rate: f64) -> Result<Decimal, MoneyError> {
    payments.iter().try_fold(Decimal::ZERO, |sum, p| {
        let factor = single_present_value(rate, p.year).ok_or(MoneyError::TooLarge)?;
        sum.checked_add(times(p.amount, factor)?)
            .ok_or(MoneyError::TooLarge)
    })
}

/// Yearly cost over `years` years that is worth a present amount, payments at year end.
///
/// # Errors
/// A rate of −100 % or less, no years, or an amount too large.
pub fn equivalent_annual(present: Decimal, rate: f64, years: f64) -> Result<Decimal, MoneyError> {
    times(
        present,
        capital_recovery(rate, years).ok_or(MoneyError::TooLarge)?,
    )
}

/// Equivalent annual cost of a first cost with a salvage value: (P − S)(A/P) + S·d.
pub fn annual_cost_with_salvage(first: f64, salvage: f64, rate: f64, years: f64) -> Option<f64> {
    capital_recovery(rate, years).map(|a| (first - salvage) * a + salvage * rate)
}

/// Value left in something at the end of the study: cost × remaining life / life, worth today.
pub fn residual_today(
    cost: f64,
    remaining: f64,
    life: f64,
    study_end: f64,
    rate: f64,
) -> Option<f64> {
    if !(life > 0.0 && remaining >= 0.0) {
        return None;
    }
    single_present_value(rate, study_end).map(|f| cost * remaining.min(life) / life * f)
}

/// Adjusted internal rate of return: (1 + r)·SIR^(1/N) − 1 (from memory).
pub fn adjusted_return(savings_to_investment: f64, reinvested_at: f64, years: f64) -> Option<f64> {
    (savings_to_investment > 0.0 && years > 0.0)
        .then(|| (1.0 + reinvested_at) * savings_to_investment.powf(1.0 / years) - 1.0)
}

/// Cost of an overlay that falls short of its design life: C(R^D − R^E)/(1 − R^O) with
/// R = (1 + inflation)/(1 + interest). E expected, D design, O life of later overlays.
///
/// Source: FHWA-RD-02-095 Appendix I (form from memory). Negative when it falls short.
pub fn life_shortfall_cost(
    cost: f64,
    r: f64,
    design: f64,
    expected: f64,
    later: f64,
) -> Option<f64> {
    let per = 1.0 - r.powf(later);
    (r > 0.0 && per.abs() > 1e-12).then(|| cost * (r.powf(design) - r.powf(expected)) / per)
}

/// Greatest cost of a repair for each unit of replacement cost at equal annual cost:
/// UPV(d, n_repair)/UPV(d, n_replacement). Assumes each is renewed like for like.
pub fn break_even_cost_share(rate: f64, repair_life: f64, replacement_life: f64) -> Option<f64> {
    let replace = uniform_present_value(rate, replacement_life).filter(|x| *x > 0.0)?;
    uniform_present_value(rate, repair_life).map(|r| r / replace)
}

/// Life that a repair must reach to cost no more a year than `annual`: n with cost·(A/P) = annual.
///
/// `None` when no life is long enough (the interest alone is more).
pub fn break_even_life(cost: f64, annual: f64, rate: f64) -> Option<f64> {
    if !(cost >= 0.0 && annual > 0.0 && rate > -1.0) {
        return None;
    }
    let needed = cost / annual;
    if rate == 0.0 {
        return Some(needed);
    }
    let left = 1.0 - rate * needed;
    (left > 0.0)
        .then(|| -left.ln() / rate.ln_1p())
        .filter(|n| n.is_finite())
}

/// An option over its life: what it costs now, how long it lasts, what it takes to keep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeCycle {
    /// Cost now.
    pub first: Estimate,
    /// Life, years.
    pub life: Estimate,
    /// Upkeep at each interval within the life.
    pub upkeep: Vec<Upkeep>,
}

/// A recurring cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Upkeep {
    /// What is done.
    pub what: String,
    /// Years between.
    pub every: Estimate,
    /// Cost each time.
    pub cost: Estimate,
}

/// Equivalent annual cost of an option from single numbers: first cost, life, and upkeep
/// (interval, cost). Upkeep that would fall on the end of the life is left out.
pub fn annual_cost(first: f64, life: f64, upkeep: &[(f64, f64)], rate: f64) -> Option<f64> {
    const MOST_TIMES: usize = 1000;
    let mut present = first;
    for (every, cost) in upkeep {
        if *every <= 0.0 {
            return None;
        }
        for k in 1..=MOST_TIMES {
            let year = k as f64 * every;
            if year >= life * (1.0 - 1e-9) {
                break;
            }
            present += cost * single_present_value(rate, year)?;
        }
    }
    capital_recovery(rate, life).map(|a| present * a)
}

impl LifeCycle {
    /// Inputs in a fixed order: first cost, life, then interval and cost of each upkeep.
    pub fn inputs(&self) -> Vec<(String, Estimate)> {
        let mut all = vec![
            ("cost now".to_owned(), self.first),
            ("life".to_owned(), self.life),
        ];
        for u in &self.upkeep {
            all.push((format!("years between {}", u.what), u.every));
            all.push((format!("cost of {}", u.what), u.cost));
        }
        all
    }

    /// Equivalent annual cost for values in the order of [`LifeCycle::inputs`].
    pub fn annual_cost_of(&self, values: &[f64], rate: f64) -> Option<f64> {
        let (first, life) = (*values.first()?, *values.get(1)?);
        let upkeep: Vec<(f64, f64)> = values
            .get(2..)?
            .chunks_exact(2)
            .map(|c| (c[0], c[1]))
            .collect();
        annual_cost(first, life, &upkeep, rate)
    }

    /// Equivalent annual cost by the likely figures, for a life of so many years.
    pub fn likely_cost(&self, life: f64, rate: f64) -> Option<f64> {
        let upkeep: Vec<(f64, f64)> = self
            .upkeep
            .iter()
            .map(|u| (u.every.likely, u.cost.likely))
            .collect();
        annual_cost(self.first.likely, life, &upkeep, rate)
    }

    /// Equivalent annual cost: best case, likely, worst case. Best pairs low cost with long life.
    pub fn annual_range(&self, rate: f64) -> Option<(f64, f64, f64)> {
        let pick = |best: bool| {
            let cheap = |e: Estimate| if best { e.low } else { e.high };
            let long = |e: Estimate| if best { e.high } else { e.low };
            let upkeep: Vec<_> = self
                .upkeep
                .iter()
                .map(|u| (long(u.every), cheap(u.cost)))
                .collect();
            annual_cost(cheap(self.first), long(self.life), &upkeep, rate)
        };
        let likely: Vec<f64> = self.inputs().iter().map(|(_, e)| e.likely).collect();
        Some((
            pick(true)?,
            self.annual_cost_of(&likely, rate)?,
            pick(false)?,
        ))
    }
}

/// A bar of the tornado: one input moved from low to high, all others likely.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TornadoBar {
    /// The input.
    pub name: String,
    /// Its estimate.
    pub input: Estimate,
    /// Result with the input low.
    pub at_low: f64,
    /// Result with the input high.
    pub at_high: f64,
    /// Value of the input at which the result changes sign, where it does within its range.
    pub flips_at: Option<f64>,
}

impl TornadoBar {
    /// How far the input moves the result.
    pub fn swing(&self) -> f64 {
        (self.at_high - self.at_low).abs()
    }
}

/// Moves one input at a time, widest swing first. `result` is a difference between two options, so
/// that a change of sign flips the choice. Inputs for which it has no result are left out.
pub fn tornado(
    inputs: &[(String, Estimate)],
    result: impl Fn(&[f64]) -> Option<f64>,
) -> Vec<TornadoBar> {
    let likely: Vec<f64> = inputs.iter().map(|(_, e)| e.likely).collect();
    let with = |i: usize, x: f64| {
        let mut values = likely.clone();
        if let Some(v) = values.get_mut(i) {
            *v = x;
        }
        result(&values)
    };
    let mut bars: Vec<TornadoBar> = inputs
        .iter()
        .enumerate()
        .filter_map(|(i, (name, e))| {
            let (at_low, at_high) = (with(i, e.low)?, with(i, e.high)?);
            Some(TornadoBar {
                name: name.clone(),
                input: *e,
                at_low,
                at_high,
                flips_at: sign_change(e.low, e.high, |x| with(i, x)),
            })
        })
        .collect();
    bars.sort_by(|a, b| {
        b.swing()
            .total_cmp(&a.swing())
            .then_with(|| a.name.cmp(&b.name))
    });
    bars
}

/// Where a function changes sign between two points, by halving. `None` when the ends agree.
fn sign_change(mut lo: f64, mut hi: f64, f: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (start, end) = (f(lo)?, f(hi)?);
    if start == 0.0 {
        return Some(lo);
    }
    if start.signum() == end.signum() {
        return None;
    }
    for _ in 0..80 {
        let middle = (lo + hi) / 2.0;
        if f(middle)?.signum() == start.signum() {
            lo = middle;
        } else {
            hi = middle;
        }
    }
    Some((lo + hi) / 2.0)
}

/// Which option is the cheapest, or that it is too close to say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decision {
    /// Index of the cheapest option.
    pub cheapest: usize,
    /// Indices of the options that cost less than the band more: not to be told apart from it.
    pub undecided_with: Vec<usize>,
}

/// Compares life-cycle costs: options within `band` (0.1 for 10 %) of the cheapest are undecided.
///
/// Source of the rule: GSA P-100, with a band of 10 %. `None` without options or with a cost that
/// is no number.
pub fn decide(costs: &[f64], band: f64) -> Option<Decision> {
    if costs.iter().any(|c| !c.is_finite()) {
        return None;
    }
    let (cheapest, least) = costs
        .iter()
        .copied()
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let undecided_with = costs
        .iter()
        .enumerate()
        .filter(|(i, c)| *i != cheapest && **c - least < band * least.abs())
        .map(|(i, _)| i)
        .collect();
    Some(Decision {
        cheapest,
        undecided_with,
    })
}

/// A range rounded outward to so many significant digits, so that no figure looks falsely exact.
pub fn outward(low: f64, high: f64, digits: u32) -> (f64, f64) {
    let step = |x: f64| {
        if x == 0.0 || !x.is_finite() {
            return 1.0;
        }
        10f64.powi(x.abs().log10().floor() as i32 + 1 - digits.max(1) as i32)
    };
    // The greater end sets the step: both ends are then equally coarse.
    let s = step(if high.abs() > low.abs() { high } else { low });
    ((low / s + 1e-9).floor() * s, (high / s - 1e-9).ceil() * s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        Decimal::from_str_exact(text).unwrap()
    }

    #[test]
    fn amounts_are_read_in_the_price_books_currency_only() {
        assert_eq!(read_amount("1250.50", "USD"), Ok(d("1250.50")));
        assert_eq!(read_amount(" 1,250.50 USD ", "USD"), Ok(d("1250.50")));
        assert_eq!(read_amount("usd 12", "USD"), Ok(d("12")));
        assert!(matches!(
            read_amount("12 EUR", "USD"),
            Err(MoneyError::OtherCurrency { .. })
        ));
        assert!(matches!(
            read_amount("€12", "USD"),
            Err(MoneyError::OtherCurrency { .. })
        ));
        for bad in [
            "",
            "about 5 or 6",
            "1.2.3",
            "12,50",
            "1,2345",
            "1234,567",
            "-",
            "5e3",
        ] {
            assert!(read_amount(bad, "USD").is_err(), "{bad}");
        }
        assert!(matches!(
            read_amount("-5", "USD"),
            Err(MoneyError::Negative { .. })
        ));
    }

    #[test]
    fn lines_add_up_to_the_cent_and_refuse_disorder() {
        let line = CostLine {
            item: "bags".into(),
            quantity: d("31"),
            low: d("28.10"),
            likely: d("31"),
            high: d("36"),
        };
        // 31 × 28.10 = 871.10; 31 × 36 = 1116.
        let a = line.amounts().unwrap();
        assert_eq!((a.low, a.high), (d("871.10"), d("1116")));
        let upside_down = CostLine {
            low: d("40"),
            ..line.clone()
        };
        assert!(matches!(
            upside_down.amounts(),
            Err(MoneyError::OutOfOrder { .. })
        ));
        let huge = CostLine {
            quantity: Decimal::MAX,
            ..line
        };
        assert_eq!(huge.amounts(), Err(MoneyError::TooLarge));
        assert_eq!(add_up(&[a, a]).unwrap().low, d("1742.20"));
    }

    #[test]
    fn tax_and_deposit_stand_on_lines_of_their_own() {
        // 1000.05 at 8.25 %: 82.504125 -> 82.50; deposit a third of 1082.55 -> 360.85.
        let b = bill(d("1000.05"), 0.0825, 1.0 / 3.0).unwrap();
        assert_eq!(
            (b.tax, b.total, b.deposit),
            (d("82.50"), d("1082.55"), d("360.85"))
        );
    }

    #[test]
    fn a_repair_whose_interest_alone_is_dearer_never_breaks_even() {
        assert_eq!(break_even_life(1000.0, 29.0, 0.03), None);
        assert_eq!(break_even_life(1000.0, 100.0, 0.0), Some(10.0));
        // Round trip: 10 years at 3 %.
        let annual = 1000.0 * capital_recovery(0.03, 10.0).unwrap();
        assert!((break_even_life(1000.0, annual, 0.03).unwrap() - 10.0).abs() < 1e-9);
    }

    #[test]
    fn the_tornado_finds_where_the_choice_flips() {
        // Difference a − b: with a from 5 to 15 and b fixed at 9 it flips at 9.
        let inputs = vec![
            ("b".to_owned(), Estimate::exact(9.0)),
            ("a".to_owned(), Estimate::new(5.0, 8.0, 15.0).unwrap()),
        ];
        let bars = tornado(&inputs, |v| Some(v[1] - v[0]));
        assert_eq!(bars[0].name, "a");
        assert!((bars[0].flips_at.unwrap() - 9.0).abs() < 1e-9);
        assert_eq!(
            (bars[0].at_low, bars[0].at_high, bars[1].flips_at),
            (-4.0, 6.0, None)
        );
    }

    #[test]
    fn near_costs_are_left_undecided() {
        let out = decide(&[1000.0, 1099.0, 1100.0, 2000.0], 0.10).unwrap();
        assert_eq!(
            out,
            Decision {
                cheapest: 0,
                undecided_with: vec![1]
            }
        );
        assert_eq!(decide(&[], 0.1), None);
        assert_eq!(decide(&[1.0, f64::NAN], 0.1), None);
    }

    #[test]
    fn ranges_round_outward() {
        assert_eq!(outward(3127.0, 4871.0, 2), (3100.0, 4900.0));
        assert_eq!(outward(3100.0, 4900.0, 2), (3100.0, 4900.0));
        assert_eq!(outward(0.0, 0.0, 2), (0.0, 0.0));
    }

    #[test]
    fn upkeep_on_the_last_day_is_left_out() {
        // Life 9, reseal every 3 at rate 0: years 3 and 6 only. (90 + 2 × 9)/9 = 12 a year.
        assert!((annual_cost(90.0, 9.0, &[(3.0, 9.0)], 0.0).unwrap() - 12.0).abs() < 1e-12);
        assert_eq!(annual_cost(90.0, 9.0, &[(0.0, 9.0)], 0.0), None);
    }
}
