//! The options side by side: prices, life, cost a year, and what would flip the choice.

use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs, middle};
use crate::plan::model::{
    AreaPlan, Bought, BreakEven, DaysPlan, MoneyLine, MoneyPlan, OptionPlan, RuleOfThumb, WayPlan,
};
use crate::plan::money::{
    self, Amounts, CostLine, Decision, Estimate, LifeCycle, MoneyError, SpreadRule, Upkeep, bill,
    break_even_cost_share, break_even_life, decide, read_amount, tornado, uniform_present_value,
};
use crate::record::model::{PriceLine, Prices};

/// Square feet in a square metre.
const FT2: f64 = 1.0 / 0.092_903_04;
/// How low, likely and high become a sum.
const RULE: SpreadRule = SpreadRule::Pert;

/// Longest life tried for a break-even, years.
const MOST_YEARS: u32 = 200;

/// Options in the order of the page, with their plain words.
const OPTIONS: [(&str, &str); 4] = [
    ("do_little", "do little now"),
    ("repair", "repair"),
    ("replace_part", "replace in part"),
    ("replace_all", "replace everything"),
];

pub(super) fn money(
    inputs: &Inputs,
    areas: &[AreaPlan],
    days: Option<&DaysPlan>,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<MoneyPlan, MissingFigure> {
    let rate = match inputs
        .prices
        .as_ref()
        .and_then(|p| middle(p.discount_rate.as_ref()))
    {
        Some(rate) => rate,
        None => figures.take("discount_rate")?.lo,
    };
    let band = figures.get("undecided_band")?.lo;
    let hours_a_day = figures.get("hours_a_day")?.lo * 24.0;
    let mut plan = MoneyPlan {
        rule: Some(RULE),
        rate: Some(rate),
        band: Some(band),
        ..MoneyPlan::default()
    };
    let (repair_life, _) = life(inputs, "repair", figures)?;
    let (replace_life, _) = life(inputs, "replace_all", figures)?;
    let share = |repair: f64, replace: f64| break_even_cost_share(rate, repair, replace);
    plan.break_even = share(repair_life.low, replace_life.high)
        .zip(share(repair_life.high, replace_life.low))
        .map(|cost_share| BreakEven {
            cost_share,
            life_years: None,
            price: None,
        });
    plan.thumb = rule_of_thumb(inputs, figures)?;
    let Some(prices) = &inputs.prices else {
        notes.push("The record has no price book, so the options are not priced.".to_owned());
        return Ok(plan);
    };
    plan.currency = Some(prices.currency.clone());
    let mut cycles = Vec::new();
    for (option, name) in OPTIONS {
        let lines: Vec<(usize, &PriceLine)> = prices
            .lines
            .iter()
            .enumerate()
            .filter(|(_, l)| l.option == option)
            .collect();
        if lines.is_empty() {
            continue;
        }
        let count = |per: &str| quantity(inputs, areas, days, option, per, hours_a_day);
        let priced = priced_lines(&lines, prices, count, notes);
        let (life, life_how) = life(inputs, option, figures)?;
        match option_plan(option, name, priced, prices, life, life_how, rate) {
            Ok(Some((out, cycle))) => {
                plan.options.push(out);
                cycles.push(cycle);
            }
            Ok(None) => {}
            Err(e) => notes.push(format!("The option “{name}” cannot be priced: {e}.")),
        }
    }
    compare(&mut plan, &cycles, rate, band);
    let likely = |option: &str| {
        let [_, likely, _] = &plan.options.iter().find(|o| o.option == option)?.bills;
        likely.total.to_f64().filter(|x| *x > 0.0)
    };
    let here = likely("repair")
        .zip(likely("replace_all"))
        .map(|(r, n)| r / n);
    if let Some(thumb) = &mut plan.thumb {
        thumb.here = here;
        thumb.over = here.is_some_and(|h| h > thumb.worth.share * (1.0 + band));
    }
    Ok(plan)
}

/// What the trade says of the cost of a repair; `None` where nothing is repaired.
fn rule_of_thumb(
    inputs: &Inputs,
    figures: &Figures<'_>,
) -> Result<Option<RuleOfThumb>, MissingFigure> {
    let repaired = |a: &AreaInput| !a.stages.is_empty() && a.replace_m2.is_none();
    if !inputs.areas.iter().any(repaired) {
        return Ok(None);
    }
    let layered = inputs.areas.iter().any(|a| a.layer.is_some());
    Ok(Some(RuleOfThumb {
        usual: layered
            .then(|| figures.sourced("resurfacing_cost_share"))
            .transpose()?,
        worth: figures.sourced("repair_cost_worth")?,
        here: None,
        over: false,
    }))
}

/// Lines with their quantities; one whose quantity is not known is left out and named.
fn priced_lines(
    lines: &[(usize, &PriceLine)],
    prices: &Prices,
    count: impl Fn(&str) -> Option<Decimal>,
    notes: &mut Vec<String>,
) -> Vec<MoneyLine> {
    let mut out = Vec::new();
    for (index, line) in lines {
        let priced = count(&line.per)
            .ok_or_else(|| format!("how many {} it takes is not known", line.per))
            .and_then(|quantity| {
                let read =
                    |text: &str| read_amount(text, &prices.currency).map_err(|e| e.to_string());
                let cost = CostLine {
                    item: line.item.clone(),
                    quantity,
                    low: read(&line.low)?,
                    likely: read(&line.likely)?,
                    high: read(&line.high)?,
                };
                let amounts = cost.amounts().map_err(|e| e.to_string())?;
                Ok(MoneyLine {
                    item: line.item.clone(),
                    per: line.per.clone(),
                    quantity,
                    every_years: interval_of(line)?,
                    amounts,
                })
            });
        match priced {
            Ok(line) => out.push(line),
            Err(why) => notes.push(format!(
                "The price line “{}” (number {}) is left out of the sum: {why}.",
                line.item,
                index + 1
            )),
        }
    }
    out
}

/// Years between the times a line is paid: least and greatest. `None` for what is paid once.
fn interval_of(line: &PriceLine) -> Result<Option<(f64, f64)>, String> {
    let Some(every) = line.every.as_ref() else {
        return Ok(None);
    };
    match every.canonical() {
        Some(days) if days.lo > 0.0 => Ok(Some((days.lo / 365.25, days.hi / 365.25))),
        Some(_) => Err("the time until it comes again must be more than nothing".to_owned()),
        None => Err("the time until it comes again is not known".to_owned()),
    }
}

/// How many units of a price an option takes.
fn quantity(
    inputs: &Inputs,
    areas: &[AreaPlan],
    days: Option<&DaysPlan>,
    option: &str,
    per: &str,
    hours_a_day: f64,
) -> Option<Decimal> {
    let mid = |i: Interval| f64::midpoint(i.lo, i.hi);
    let all = || {
        inputs
            .areas
            .iter()
            .map(|a| a.surface_m2.map(mid))
            .sum::<Option<f64>>()
    };
    let surface = || match option {
        "replace_part" => {
            let part: Vec<f64> = inputs
                .areas
                .iter()
                .filter_map(|a| a.replace_m2)
                .map(mid)
                .collect();
            if part.is_empty() {
                None
            } else {
                Some(part.iter().sum())
            }
        }
        "repair" => {
            let worked = |a: &&AreaInput| !a.stages.is_empty();
            if inputs.areas.iter().any(|a| worked(&a)) {
                inputs
                    .areas
                    .iter()
                    .filter(worked)
                    .map(|a| a.surface_m2.map(mid))
                    .sum()
            } else {
                all()
            }
        }
        _ => all(),
    };
    let x = match per {
        "job" => 1.0,
        "m2" => surface()?,
        "ft2" => surface()? * FT2,
        "bag" => {
            let bags: Vec<f64> = areas
                .iter()
                .flat_map(|a| &a.orders)
                .filter(|o| o.bought == Bought::Bags)
                .map(|o| o.amount.hi)
                .collect();
            if bags.is_empty() {
                None
            } else {
                Some(bags.iter().sum())
            }?
        }
        "hour" => {
            let people = inputs.crew.as_ref().map(|c| f64::from(c.people))?;
            let worked: f64 = days?
                .programme
                .activities
                .iter()
                .zip(&days?.dated)
                .filter(|(_, d)| !d.wait)
                .map(|(a, _)| a.days)
                .sum();
            worked * people * hours_a_day
        }
        _ => return None,
    };
    // Three decimals are finer than any tape; more would be noise of the conversion.
    Decimal::from_f64(x).map(|d| d.round_dp(3))
}

fn option_plan(
    option: &str,
    name: &str,
    lines: Vec<MoneyLine>,
    prices: &Prices,
    life: Estimate,
    life_how: String,
    rate: f64,
) -> Result<Option<(OptionPlan, LifeCycle)>, MoneyError> {
    if lines.is_empty() {
        return Ok(None);
    }
    // What comes again is no part of the sum asked now.
    let amounts: Vec<Amounts> = lines
        .iter()
        .filter(|l| l.every_years.is_none())
        .map(|l| l.amounts)
        .collect();
    let sum = money::add_up(&amounts)?;
    let estimates: Vec<Estimate> = amounts.iter().map(|a| Estimate::from(*a)).collect();
    let moments = RULE.sum(&estimates);
    let (tax, deposit) = (
        middle(prices.tax.as_ref()).unwrap_or(0.0),
        middle(prices.deposit.as_ref()).unwrap_or(0.0),
    );
    let bills = [
        bill(sum.low, tax, deposit)?,
        bill(sum.likely, tax, deposit)?,
        bill(sum.high, tax, deposit)?,
    ];
    let total = |i: usize| bills.get(i).and_then(|b| b.total.to_f64()).unwrap_or(0.0);
    let first = Estimate {
        low: total(0),
        likely: total(1),
        high: total(2),
    };
    let cycle = LifeCycle {
        first,
        life,
        upkeep: lines
            .iter()
            .filter_map(|l| Some((l, l.every_years?)))
            .map(|(l, (lo, hi))| {
                let cost = Estimate::from(l.amounts);
                let taxed = |x: f64| x * (1.0 + tax);
                Upkeep {
                    what: l.item.clone(),
                    every: Estimate {
                        low: lo,
                        likely: f64::midpoint(lo, hi),
                        high: hi,
                    },
                    cost: Estimate {
                        low: taxed(cost.low),
                        likely: taxed(cost.likely),
                        high: taxed(cost.high),
                    },
                }
            })
            .collect(),
    };
    let Some(annual) = cycle.annual_range(rate) else {
        return Err(MoneyError::TooLarge);
    };
    let quantile = |level: f64| moments.quantile(level).unwrap_or(moments.mean) * (1.0 + tax);
    Ok(Some((
        OptionPlan {
            option: option.to_owned(),
            name: name.to_owned(),
            lines,
            sum,
            likely_range: (quantile(0.1), quantile(0.9)),
            bills,
            life_years: (life.low, life.likely, life.high),
            life_how,
            upkeep: cycle.upkeep.clone(),
            annual,
            present: annual.1 * uniform_present_value(rate, life.likely).unwrap_or(0.0),
        },
        cycle,
    )))
}

/// Life of an option, years, from the trade's ranges.
fn life(
    inputs: &Inputs,
    option: &str,
    figures: &mut Figures<'_>,
) -> Result<(Estimate, String), MissingFigure> {
    let id = match option {
        "do_little" => "life_do_little",
        "replace_part" | "replace_all" => "life_slab",
        _ => {
            let layers = inputs.areas.iter().filter_map(|a| a.layer.as_ref());
            let shortest = layers
                .map(|l| match l.system.as_str() {
                    "skim" => "life_skim",
                    "bonded_topping" | "bonded_overlay" | "latex_overlay" | "unbonded_topping" => {
                        "life_bonded_overlay"
                    }
                    _ => "life_resurfacing",
                })
                .next();
            match shortest {
                Some(id) => id,
                None if inputs.areas.iter().any(|a| !a.patches.is_empty()) => "life_patch",
                None if inputs.areas.iter().any(|a| a.sealer.is_some()) => "reseal_penetrating",
                None => "life_resurfacing",
            }
        }
    };
    let years = figures.take(id)?;
    let (lo, hi) = (years.lo / 365.25, years.hi / 365.25);
    Ok((
        Estimate {
            low: lo,
            likely: f64::midpoint(lo, hi),
            high: hi,
        },
        figures.source(id),
    ))
}

/// Decision, tornado and the life a repair must reach. Doing little mends nothing, so it is shown
/// but not set against options that do, unless nothing else has a price.
fn compare(plan: &mut MoneyPlan, cycles: &[LifeCycle], rate: f64, band: f64) {
    let mends = |o: &OptionPlan| o.option != "do_little";
    let mut order: Vec<usize> = (0..plan.options.len()).collect();
    if plan.options.iter().any(mends) {
        order.retain(|i| plan.options.get(*i).is_some_and(mends));
    }
    let cost = |i: &usize| plan.options.get(*i).map_or(f64::INFINITY, |o| o.annual.1);
    order.sort_by(|a, b| cost(a).total_cmp(&cost(b)).then(a.cmp(b)));
    let likely: Vec<f64> = order.iter().map(cost).collect();
    plan.decision = decide(&likely, band).and_then(|d| {
        let option = |i: usize| order.get(i).copied();
        Some(Decision {
            cheapest: option(d.cheapest)?,
            undecided_with: d.undecided_with.into_iter().filter_map(option).collect(),
        })
    });
    if let [first, second, ..] = order.as_slice()
        && let (Some(a), Some(b)) = (cycles.get(*first), cycles.get(*second))
        && let (Some(x), Some(y)) = (plan.options.get(*first), plan.options.get(*second))
    {
        let mut inputs: Vec<(String, Estimate)> = a
            .inputs()
            .into_iter()
            .map(|(what, e)| (format!("{}: {what}", x.name), e))
            .collect();
        let split = inputs.len();
        inputs.extend(
            b.inputs()
                .into_iter()
                .map(|(what, e)| (format!("{}: {what}", y.name), e)),
        );
        plan.compared = Some((x.name.clone(), y.name.clone()));
        plan.tornado = tornado(&inputs, |values| {
            let (own, other) = values.split_at_checked(split)?;
            Some(b.annual_cost_of(other, rate)? - a.annual_cost_of(own, rate)?)
        });
    }
    let find = |option: &str| plan.options.iter().position(|o| o.option == option);
    if let (Some(repair), Some(replace)) = (find("repair"), find("replace_all"))
        && let (Some(r), Some(n)) = (cycles.get(repair), cycles.get(replace))
        && let Some(annual) = n.likely_cost(n.life.likely, rate)
        && let Some(even) = plan.break_even.as_mut()
    {
        even.life_years = if r.upkeep.is_empty() {
            break_even_life(r.first.likely, annual, rate)
        } else {
            // Upkeep comes in steps, so the life is found year by year.
            (1..=MOST_YEARS)
                .find(|n| {
                    r.likely_cost(f64::from(*n), rate)
                        .is_some_and(|c| c <= annual)
                })
                .map(f64::from)
        };
        even.price = r.likely_cost(r.life.likely, rate).and_then(|own| {
            // A year's cost is the first cost by its factor and the upkeep, which stays.
            let factor = money::capital_recovery(rate, r.life.likely)?;
            Some(r.first.likely + (annual - own) / factor).filter(|p| *p > 0.0)
        });
    }
}

/// Puts prices to the ways out of the stairs: the lines of the price book with the way's word.
pub(super) fn price_ways(
    inputs: &Inputs,
    stair_area: Option<&AreaInput>,
    ways: &mut [WayPlan],
    notes: &mut Vec<String>,
) {
    let Some(prices) = &inputs.prices else {
        return;
    };
    for way in ways {
        let word = way.word();
        let lines: Vec<(usize, &PriceLine)> = prices
            .lines
            .iter()
            .enumerate()
            .filter(|(_, l)| l.option == word)
            .collect();
        if lines.is_empty() {
            continue;
        }
        let m2 = stair_area
            .and_then(|a| a.surface_m2)
            .map(|i| f64::midpoint(i.lo, i.hi));
        let count = |per: &str| {
            let x = match per {
                "job" => Some(1.0),
                "m2" => m2,
                "ft2" => m2.map(|x| x * FT2),
                _ => None,
            }?;
            Decimal::from_f64(x).map(|d| d.round_dp(3))
        };
        let priced = priced_lines(&lines, prices, count, notes);
        let amounts: Vec<Amounts> = priced.iter().map(|l| l.amounts).collect();
        way.price = (!amounts.is_empty())
            .then(|| money::add_up(&amounts).ok())
            .flatten();
    }
}
