//! The summary as lines for a terminal and as JSON for machines.

use std::fmt::Write;

use serde_json::{Value, json};

use super::judge::Judge;
use super::run::Summary;
use super::tally::Ask;

/// Facts listed on the terminal.
const FACTS: usize = 5;

/// Verdicts of a set of bits, in plain words.
pub fn names(judge: &Judge, bits: u64) -> Vec<&str> {
    let verdicts = judge.verdicts().iter().enumerate();
    verdicts
        .filter(|(i, _)| *i < 64 && bits >> i & 1 == 1)
        .map(|(_, (_, name))| name.as_str())
        .collect()
}

/// Facts to find out, the one that settles most for its work first.
pub fn by_worth(summary: &Summary) -> Vec<(&String, &Ask)> {
    let mut all: Vec<_> = summary.tally.ask.iter().collect();
    // Compared as products of whole numbers, so that no rounding decides.
    all.sort_by(|(a_name, a), (b_name, b)| {
        let left = u128::from(b.settles) * u128::from(a.seconds.max(1));
        let right = u128::from(a.settles) * u128::from(b.seconds.max(1));
        left.cmp(&right).then(a_name.cmp(b_name))
    });
    all
}

/// A number with its thousands set apart.
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out
}

/// Work in hours, or minutes where it is less than two hours.
pub fn work(seconds: u64) -> String {
    match seconds.div_ceil(60) {
        m if m < 120 => format!("{m} min"),
        m => format!("{} h", grouped(m.div_ceil(60))),
    }
}

/// For a terminal.
pub fn text(judge: &Judge, summary: &Summary) -> String {
    let t = &summary.tally;
    let mut out = format!(
        "slabs judged: {}; open: {}; bad: {}\n\n",
        grouped(t.judged()),
        grouped(t.open_slabs()),
        grouped(t.bad)
    );
    // Writing to a string can't fail.
    for (i, count) in &t.verdicts {
        let name = judge.verdicts().get(usize::from(*i)).map_or("", |v| &v.1);
        let _ = write!(out, "  {name:<28} {:>11}", grouped(count.slabs));
        if count.priced > 0 {
            let _ = write!(out, "   ${} to {}", grouped(count.low), grouped(count.high));
        }
        out.push('\n');
    }
    let asks = by_worth(summary);
    if !asks.is_empty() {
        out.push_str("\n  Find out next, most settled for the work first:\n");
    }
    for (fact, ask) in asks.into_iter().take(FACTS) {
        let name = judge
            .pack
            .vocabulary
            .find(fact)
            .map_or("", |id| &judge.pack.vocabulary.fact(id).name);
        let _ = writeln!(
            out,
            "  {name}: {} slabs, {}, settles about {}",
            grouped(ask.slabs),
            work(ask.seconds),
            grouped(ask.settles / 1_000_000)
        );
    }
    out
}

/// For machines.
pub fn machine(judge: &Judge, summary: &Summary) -> Value {
    let t = &summary.tally;
    let word = |i: u8| judge.verdicts().get(usize::from(i)).map_or("", |v| &v.0);
    json!({
        "read": t.read,
        "judged": t.judged(),
        "open": t.open_slabs(),
        "bad": t.bad,
        "verdicts": t.verdicts.iter().map(|(i, c)| json!({
            "verdict": word(*i),
            "slabs": c.slabs,
            "priced": c.priced,
            "cost": [c.low, c.high],
        })).collect::<Vec<_>>(),
        "worst": t.worst.iter().map(|w| json!({
            "id": serde_json::from_str::<Value>(&w.id).unwrap_or_default(),
            "number": w.number,
            "verdict": word(w.verdict),
            "cost": [w.low, w.high],
        })).collect::<Vec<_>>(),
        "next": by_worth(summary).into_iter().map(|(fact, a)| json!({
            "fact": fact,
            "slabs": a.slabs,
            "minutes": a.seconds as f64 / 60.0,
            "settles": a.settles as f64 / 1e6,
        })).collect::<Vec<_>>(),
        "currency": "USD",
        "made_with": {"version": env!("CARGO_PKG_VERSION"), "rules": judge.pack.fingerprint},
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_work_as_people_write_them() {
        assert_eq!(grouped(0), "0");
        assert_eq!(grouped(999), "999");
        assert_eq!(grouped(1_234_567), "1,234,567");
        assert_eq!(work(61), "2 min");
        assert_eq!(work(3 * 3600), "3 h");
    }
}
