//! Facts of the site and of the slab as a whole.

use jiff::civil::Date;

use crate::facts::Interval;
use crate::record::model::{OneOrMore, Record};

use super::builder::Builder;

/// Deicers from harmless to harsh; a list means that all of them are used, and the harshest counts.
const BY_HARSHNESS: [&str; 8] = [
    "none",
    "sand",
    "urea",
    "acetate",
    "rock_salt",
    "calcium_chloride",
    "magnesium_chloride",
    "ammonium",
];

pub(super) fn site(b: &mut Builder<'_>, record: &Record, thing: usize) {
    let s = &record.site;
    b.choice(
        thing,
        "weathering",
        s.weathering.as_ref(),
        "site.weathering".into(),
    );
    b.measured(
        thing,
        "freeze_thaw_days",
        s.freeze_thaw_days.as_ref(),
        "site.freeze_thaw_days".into(),
    );
    b.choice(thing, "soil", s.soil.as_ref(), "site.soil".into());
    b.choice(
        thing,
        "drainage",
        s.drainage.as_ref(),
        "site.drainage".into(),
    );
    b.measured(
        thing,
        "tree_distance",
        s.tree_distance.as_ref(),
        "site.tree_distance".into(),
    );
    b.choice(thing, "sun", s.sun.as_ref(), "site.sun".into());
    deicers(b, s.deicers.as_ref(), thing);
    freezes(b, thing);
    b.signs(thing, &s.signs, "site.signs");
}

fn deicers(b: &mut Builder<'_>, written: Option<&OneOrMore>, thing: usize) {
    let used: Vec<&str> = match written {
        Some(OneOrMore::One(one)) => vec![one.trim()],
        Some(OneOrMore::More(more)) => more.iter().map(|m| m.trim()).collect(),
        _ => return,
    };
    if used.contains(&"unknown") {
        return;
    }
    let path = || vec!["site.deicers".to_owned()];
    if let Some(harshest) = BY_HARSHNESS.iter().rev().find(|d| used.contains(d)) {
        b.chosen(
            thing,
            "deicers",
            &[harshest],
            "the harshest of the deicers used",
            path(),
        );
        let chloride = used
            .iter()
            .any(|u| u.ends_with("chloride") || *u == "rock_salt");
        b.chosen(
            thing,
            "chloride_salt_used",
            &[if chloride { "yes" } else { "no" }],
            "from the deicers used",
            path(),
        );
    }
}

fn freezes(b: &mut Builder<'_>, thing: usize) {
    let days = b.number(thing, "freeze_thaw_days");
    let weathering = b.words(thing, "weathering");
    let mut possible: Vec<&str> = Vec::new();
    match (&weathering, days) {
        // Counted days say it outright.
        (_, Some(days)) => {
            if days.hi > 0.0 {
                possible.push("yes");
            }
            if days.lo <= 0.0 {
                possible.push("no");
            }
        }
        (Some(words), None) => {
            if words.iter().any(|w| *w != "negligible") {
                possible.push("yes");
            }
            if words.contains(&"negligible") {
                possible.push("no");
            }
        }
        (None, None) => return,
    }
    let paths = vec![
        "site.weathering".to_owned(),
        "site.freeze_thaw_days".to_owned(),
    ];
    b.chosen(
        thing,
        "freezes",
        &possible,
        "from the weathering region or the freeze-thaw days",
        paths,
    );
}

pub(super) fn slab(b: &mut Builder<'_>, record: &Record, thing: usize) {
    let s = &record.slab;
    b.word(thing, "use", Some(&s.use_), "slab.use".into());
    // Only a floor inside a building is out of the weather; a garage floor is wet and salted by cars
    // but roofed, so the pack judges it by its use.
    let indoors = matches!(s.use_.as_str(), "interior_floor" | "garage_floor");
    b.chosen(
        thing,
        "exposure",
        &[if indoors { "no" } else { "yes" }],
        "from what the slab serves as",
        vec!["slab.use".into()],
    );
    b.measured(
        thing,
        "thickness",
        s.thickness.as_ref(),
        "slab.thickness".into(),
    );
    b.choice(thing, "finish", s.finish.as_ref(), "slab.finish".into());
    b.measured(thing, "relief", s.relief.as_ref(), "slab.relief".into());
    if s.relief.is_none()
        && b.words(thing, "finish")
            .is_some_and(|w| !w.contains(&"patterned") && !w.contains(&"exposed_stone"))
    {
        b.worked_out(
            thing,
            "relief",
            Some(Interval::exact(0.0)),
            "a plain finish has no relief",
            vec!["slab.finish".into()],
        );
    }
    b.choice(
        thing,
        "reinforcement",
        s.reinforcement.as_ref(),
        "slab.reinforcement".into(),
    );
    b.choice(thing, "support", s.support.as_ref(), "slab.support".into());
    b.choice(
        thing,
        "covering",
        s.covering.as_ref(),
        "slab.covering".into(),
    );
    b.measured(thing, "mix_air", s.mix.air.as_ref(), "slab.mix.air".into());
    b.measured(
        thing,
        "mix_stone",
        s.mix.largest_stone.as_ref(),
        "slab.mix.largest_stone".into(),
    );
    b.measured(
        thing,
        "mix_strength",
        s.mix.strength.as_ref(),
        "slab.mix.strength".into(),
    );
    b.measured(
        thing,
        "chloride_content",
        s.mix.chloride.as_ref(),
        "slab.mix.chloride".into(),
    );
    age(b, record, thing);
    air_shortfall(b, thing);
    let w = &record.wishes;
    b.word(
        thing,
        "wish_finish",
        w.finish.as_deref(),
        "wishes.finish".into(),
    );
    b.word(
        thing,
        "wish_relief",
        w.relief.as_deref(),
        "wishes.relief".into(),
    );
    b.word(
        thing,
        "traffic",
        w.traffic.as_deref(),
        "wishes.traffic".into(),
    );
    if w.traffic.is_none() {
        let traffic = match s.use_.as_str() {
            "drive" | "garage_floor" | "apron" | "carport_deck" => "car",
            _ => "foot",
        };
        b.chosen(
            thing,
            "traffic",
            &[traffic],
            "from what the slab serves as",
            vec!["slab.use".into()],
        );
    }
    let coloured = (w.colour.as_deref()).is_some_and(|c| !c.trim().is_empty());
    b.chosen(
        thing,
        "wish_colour",
        &[if coloured { "yes" } else { "no" }],
        "from the wishes",
        vec!["wishes.colour".into()],
    );
    materials(b, record, thing);
    b.signs(thing, &s.signs, "slab.signs");
}

/// Facts that the name of a product tells, such as the kind of sealer. The first product of its kind
/// counts; where none is listed, that is an answer too.
fn materials(b: &mut Builder<'_>, record: &Record, thing: usize) {
    let told: Vec<(String, String, String)> = b
        .vocabulary
        .facts()
        .filter_map(|(_, fact)| {
            let product = fact.product.as_ref()?;
            let mut listed = record.materials.iter().enumerate();
            let (value, path) = match listed.find(|(_, m)| m.kind == product.kind) {
                None => (fact.value_index("none")?, "materials".to_owned()),
                Some((i, m)) => (product.told_by(&m.name), format!("materials.{i}.name")),
            };
            let word = &fact.values().get(value)?.id;
            Some((fact.id.clone(), word.clone(), path))
        })
        .collect();
    for (fact, word, path) in told {
        b.chosen(
            thing,
            &fact,
            &[&word],
            "from the materials listed",
            vec![path],
        );
    }
}

/// First and last day that a partial date (`2019`, `2019-06`, `2019-06-03`) may mean.
pub fn date_range(text: &str) -> Option<(Date, Date)> {
    let mut parts = text.trim().split('-').map(|p| p.parse::<i16>().ok());
    let (year, month, day) = (parts.next()??, parts.next(), parts.next());
    match (month, day, parts.next()) {
        (None, None, None) => Some((Date::new(year, 1, 1).ok()?, Date::new(year, 12, 31).ok()?)),
        (Some(month), None, None) => {
            let first = Date::new(year, i8::try_from(month?).ok()?, 1).ok()?;
            Some((first, first.last_of_month()))
        }
        (Some(month), Some(day), None) => {
            let date =
                Date::new(year, i8::try_from(month?).ok()?, i8::try_from(day?).ok()?).ok()?;
            Some((date, date))
        }
        _ => None,
    }
}

/// Whole days from one date to another.
pub fn days_between(from: Date, to: Date) -> f64 {
    f64::from(from.until(to).map_or(0, |span| span.get_days()))
}

fn age(b: &mut Builder<'_>, record: &Record, thing: usize) {
    let (Some(placed), Some((today, _))) = (
        record.slab.placed.as_deref().and_then(date_range),
        date_range(&record.job.date),
    ) else {
        return;
    };
    let age = Interval {
        lo: days_between(placed.1, today).max(0.0),
        hi: days_between(placed.0, today).max(0.0),
    };
    b.worked_out(
        thing,
        "age",
        Some(age),
        "from the day it was placed to the day of the inspection",
        vec!["slab.placed".into(), "job.date".into()],
    );
}

/// Target air for the stone size less the air in the concrete.
fn air_shortfall(b: &mut Builder<'_>, thing: usize) {
    let (Some(air), Some(stone)) = (b.number(thing, "mix_air"), b.number(thing, "mix_stone"))
    else {
        return;
    };
    if let Some(target) = air_target(stone, |id| b.figure(id)) {
        b.worked_out(
            thing,
            "air_shortfall",
            Some(target - air),
            "target air for the stone size less the air in the concrete",
            vec!["slab.mix.air".into(), "slab.mix.largest_stone".into()],
        );
    }
}

/// Target air (share) where it freezes and is salted, for a largest stone (mm). The pack's figures
/// give targets at the sieve sizes; a size between two takes the range between their targets. `None`
/// where the pack gives none.
pub fn air_target(stone: Interval, figure: impl Fn(&str) -> Option<Interval>) -> Option<Interval> {
    const SIZES: [(&str, f64); 7] = [
        ("3_8in", 0.375),
        ("1_2in", 0.5),
        ("3_4in", 0.75),
        ("1in", 1.0),
        ("1_1_2in", 1.5),
        ("2in", 2.0),
        ("3in", 3.0),
    ];
    let targets: Vec<(f64, f64)> = SIZES
        .iter()
        .filter_map(|(name, inches)| {
            Some((inches * 25.4, figure(&format!("air_target_{name}"))?.lo))
        })
        .collect();
    // The target falls as the stone grows, so the largest stone gives the least target.
    let at_most = targets
        .iter()
        .rev()
        .find(|(size, _)| *size <= stone.lo + 1e-6)
        .or(targets.first());
    let at_least = targets
        .iter()
        .find(|(size, _)| *size >= stone.hi - 1e-6)
        .or(targets.last());
    let ((_, high), (_, low)) = (at_most?, at_least?);
    Some(Interval::of(*low, *high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn partial_dates_are_ranges() {
        let (first, last) = date_range("2020-02").unwrap();
        assert_eq!(
            (first.to_string(), last.to_string()),
            ("2020-02-01".to_owned(), "2020-02-29".to_owned())
        );
        assert!(date_range("2020-02-30").is_none());
        assert!(date_range("June 2020").is_none());
    }
}
