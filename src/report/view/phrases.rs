//! Answers in plain words.

use super::{Fact, Remark};
use crate::assessment::AreaFinding;
use crate::assessment::Choice;
use crate::assessment::DefectFinding;
use crate::assessment::FactRead;
use crate::assessment::Grade;
use crate::assessment::Question;
use crate::assessment::RankedCause;
use crate::assessment::Reason;
use crate::assessment::Sign;
use crate::assessment::Verdict;
use crate::facts::Interval;
use crate::record::model::AreaRecord;
use crate::record::model::Defect;
use crate::report::drawings::evidence::Bar;
use crate::units::Kind;
use crate::units::Measured;
use crate::units::Size;
use crate::units::System;

pub(super) fn plain(reason: &Reason) -> &str {
    reason.plain.as_deref().unwrap_or(&reason.because)
}

/// Up to `most` different sentences of the reasons that hold for certain, safety first.
pub(super) fn plain_texts(reasons: &[Reason], most: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for safety in [true, false] {
        for reason in reasons.iter().filter(|r| r.safety == safety && r.certain) {
            let text = sentence(plain(reason));
            if !out.contains(&text) {
                out.push(text);
            }
        }
    }
    out.truncate(most);
    out
}

/// The fact that sums the scales up in plain words.
pub(super) const SEVERITY: &str = "severity";

/// Whether a grade belongs on the owner's pages: it is settled, says something, has a sentence for
/// him, and stands on a scale that others know. The rest stands in the appendix.
pub(super) fn for_owner(grade: &Grade) -> bool {
    grade.firm
        && !grade.scale.is_empty()
        && !grade.scale.starts_with("Own working rule")
        && grade
            .classes
            .iter()
            .all(|c| c.word != "none" && c.word != "no")
        && grade.reasons.iter().all(|r| r.plain.is_some())
}

/// Whether a fact as read is not settled: unknown, a range, or several values still possible.
pub(super) fn is_open(read: &FactRead) -> bool {
    read.value == "not known" || read.value.contains(" or ") || read.value.contains(" to ")
}

/// A grade that only says yes or no.
pub(super) fn is_flag(grade: &Grade) -> bool {
    grade
        .classes
        .iter()
        .all(|c| c.word == "yes" || c.word == "no")
}

/// The facts of a reason that are not settled, by name.
pub(super) fn hangs_on(reason: &Reason) -> String {
    let open: Vec<String> = reason
        .read
        .iter()
        .filter(|r| is_open(r))
        .map(|r| r.name.clone())
        .collect();
    join(&open, "and")
}

pub(super) fn names(choices: &[Choice]) -> Vec<String> {
    choices.iter().map(|c| c.name.clone()).collect()
}

/// `a`, `a or b`, `a, b or c`.
pub(super) fn either(list: &[String]) -> String {
    join(list, "or")
}

pub(in crate::report) fn join(list: &[String], word: &str) -> String {
    match list {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} {word} {last}", rest.join(", ")),
    }
}

pub(super) fn verdict_words(verdict: &Verdict) -> String {
    let possible = still_possible(verdict);
    if verdict.firm || possible.is_empty() {
        capital(&verdict.name)
    } else {
        format!("Measure first ({})", either(&possible))
    }
}

/// The verdicts an open one can still come to; to measure first is not one of them.
pub(super) fn still_possible(verdict: &Verdict) -> Vec<String> {
    verdict
        .possible
        .iter()
        .filter(|c| c.word != "measure_first")
        .map(|c| lower_first(&c.name))
        .collect()
}

pub(super) fn defects_words(numbers: &[u32]) -> String {
    let list = runs(numbers);
    match numbers.len() {
        1 => format!("defect {}", join(&list, "and")),
        _ => format!("defects {}", join(&list, "and")),
    }
}

/// Numbers with longer runs drawn together: `1`, `4 to 9`.
pub(super) fn runs(numbers: &[u32]) -> Vec<String> {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut spans: Vec<(u32, u32)> = Vec::new();
    for n in sorted {
        match spans.last_mut() {
            Some(last) if last.1.checked_add(1) == Some(n) => last.1 = n,
            _ => spans.push((n, n)),
        }
    }
    spans
        .into_iter()
        .flat_map(|(a, b)| match b - a {
            0 => vec![a.to_string()],
            1 => vec![a.to_string(), b.to_string()],
            _ => vec![format!("{a} to {b}")],
        })
        .collect()
}

/// `defect 1`, `defect 3` as `defects 1 and 3`; other names as they are.
pub(super) fn gather(who: &[String]) -> String {
    let part = |who: &[&str]| {
        let numbers: Vec<u32> = who
            .iter()
            .filter_map(|w| w.strip_prefix("defect ")?.parse().ok())
            .collect();
        let mut parts: Vec<String> = who
            .iter()
            .filter(|w| !w.starts_with("defect "))
            .map(|w| (*w).to_owned())
            .collect();
        if !numbers.is_empty() {
            parts.push(defects_words(&numbers));
        }
        parts.join(", ")
    };
    let (perhaps, sure): (Vec<&str>, Vec<&str>) = who
        .iter()
        .map(String::as_str)
        .partition(|w| w.ends_with(PERHAPS));
    let perhaps: Vec<&str> = perhaps
        .iter()
        .map(|w| w.trim_end_matches(PERHAPS))
        .collect();
    match (sure.is_empty(), perhaps.is_empty()) {
        (_, true) => part(&sure),
        (true, false) => format!("perhaps {}", part(&perhaps)),
        (false, false) => format!("{}; perhaps {}", part(&sure), part(&perhaps)),
    }
}

pub(super) const PERHAPS: &str = ", perhaps";

/// Defects of the same kind with the same signs share a ranking and are told of together.
pub(super) fn ranking_key(defect: &DefectFinding) -> String {
    use std::fmt::Write;
    let mut key = defect.kind.clone();
    for cause in &defect.causes {
        let _ = write!(
            key,
            "|{} {:?} {}",
            cause.cause, cause.log_odds, cause.may_lead
        );
        for sign in &cause.signs {
            let _ = write!(
                key,
                ",{} {} {:?}",
                sign.reason.row, sign.reason.certain, sign.push
            );
        }
    }
    if let Some(at_work) = &defect.at_work {
        let _ = write!(key, "|{:?}", at_work.classes);
    }
    let _ = write!(key, "|{:?}", defect.cause_note);
    key
}

pub(super) fn ruled_out(cause: &RankedCause) -> bool {
    cause.signs.iter().any(|s| s.rules_out && s.reason.certain)
}

pub(super) fn bar(cause: &RankedCause) -> Bar {
    let pushes = |certain: bool| {
        cause
            .signs
            .iter()
            .filter(|s| s.reason.certain == certain && !s.rules_out)
            .map(|s| s.push)
            .collect()
    };
    Bar {
        name: capital(&cause.name),
        before: cause.prior,
        seen: pushes(true),
        unknown: pushes(false),
        sum: (cause.log_odds.lo, cause.log_odds.hi),
        standing: standing_words(&cause.standing),
        ruled_out: ruled_out(cause),
    }
}

/// Whether two sentences tell the same: one says hardly a word that the other does not.
pub(super) fn alike(a: &str, b: &str) -> bool {
    let words = |text: &str| -> std::collections::BTreeSet<String> {
        text.to_lowercase()
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| w.len() > 2 && !matches!(*w, "the" | "and" | "that" | "with" | "for"))
            .map(str::to_owned)
            .collect()
    };
    if a == b {
        return true;
    }
    let (a, b) = (words(a), words(b));
    let least = a.len().min(b.len());
    // Nine words in ten, of at least three: short sentences differ by a single word.
    least >= 3 && a.intersection(&b).count() * 10 >= least * 9
}

/// What something is about, drawn together: `panel A1 of area w, panel B1 of area w, defect 2` as
/// `panels A1, B1 of area w; defect 2`.
pub(super) fn about_words(about: &str) -> String {
    let mut panels: Vec<(&str, Vec<&str>)> = Vec::new();
    let mut areas: Vec<&str> = Vec::new();
    let mut defects: Vec<u32> = Vec::new();
    let mut rest: Vec<&str> = Vec::new();
    for part in about.split([',', ';']).map(str::trim) {
        let without = |word: &str| {
            part.get(..word.len())
                .filter(|head| head.eq_ignore_ascii_case(word))
                .and_then(|_| part.get(word.len()..))
        };
        if let Some((panel, area)) = without("panel ").and_then(|p| p.split_once(" of area ")) {
            match panels.iter_mut().find(|(a, _)| *a == area) {
                Some((_, list)) => list.push(panel),
                None => panels.push((area, vec![panel])),
            }
        } else if let Some(area) = without("area ") {
            areas.push(area);
        } else if let Some(number) = without("defect ").and_then(|n| n.parse().ok()) {
            defects.push(number);
        } else if !part.is_empty() {
            rest.push(part);
        }
    }
    let mut out: Vec<String> = rest.iter().map(|r| (*r).to_owned()).collect();
    match areas.as_slice() {
        [] => {}
        [one] => out.push(format!("area {one}")),
        more => out.push(format!("areas {}", more.join(", "))),
    }
    for (area, list) in panels {
        let word = if list.len() == 1 { "panel" } else { "panels" };
        out.push(format!("{word} {} of area {area}", list.join(", ")));
    }
    if !defects.is_empty() {
        out.push(defects_words(&defects));
    }
    capital(&out.join("; "))
}

/// Splits `Defect 3: text` into its number and the text.
pub(in crate::report) fn about_defect(text: &str) -> (Option<String>, &str) {
    let split = text
        .strip_prefix("Defect ")
        .or_else(|| text.strip_prefix("defect "))
        .and_then(|rest| rest.split_once(": "))
        .filter(|(number, _)| !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit()));
    match split {
        Some((number, rest)) => (Some(number.to_owned()), rest),
        None => (None, text),
    }
}

/// How many causes of a defect get a paragraph.
pub(super) const TOLD: usize = 3;

/// A cause found unlikely, with what speaks against it most.
pub(super) fn unlikely_words(cause: &RankedCause) -> String {
    let weight = |s: &Sign| {
        if s.rules_out {
            f64::NEG_INFINITY
        } else {
            s.push
        }
    };
    let against = cause
        .signs
        .iter()
        .filter(|s| s.reason.certain && weight(s) < 0.0)
        .min_by(|a, b| weight(a).total_cmp(&weight(b)));
    let name = lower_first(&cause.name);
    match against {
        Some(sign) => format!(
            "{name} ({})",
            lower_first(plain(&sign.reason).trim_end_matches('.'))
        ),
        None => name,
    }
}

/// Standings as a span: `possible`, `unlikely to likely`.
pub(super) fn standing_words(standing: &[Choice]) -> String {
    match standing {
        [] => String::new(),
        [one] => one.name.clone(),
        [first, .., last] => format!("{} to {}", first.name, last.name),
    }
}

/// A share as a plain chance.
pub(super) fn chance(share: Interval) -> String {
    let ten = |x: f64| (x.clamp(0.0, 1.0) * 10.0).round();
    let (lo, hi) = (ten(share.lo), ten(share.hi));
    match (lo, hi) {
        (lo, hi) if hi == 0.0 && lo == 0.0 => "less than 1 chance in 10".to_owned(),
        (lo, hi) if lo == hi && lo == 10.0 => "more than 9 chances in 10".to_owned(),
        (lo, hi) if lo == hi => format!(
            "about {lo:.0} {} in 10",
            if lo == 1.0 { "chance" } else { "chances" }
        ),
        // So wide a span says no more than that nobody knows.
        (lo, hi) if hi - lo > 6.5 => "can’t be told yet".to_owned(),
        (lo, hi) => format!("{lo:.0} to {hi:.0} chances in 10"),
    }
}

pub(super) fn effort(q: &Question) -> String {
    let mut text = if q.minutes >= 90.0 {
        format!("about {:.0} hours", q.minutes / 60.0)
    } else if q.minutes > 0.0 {
        format!("about {:.0} minutes", q.minutes)
    } else {
        "no work".to_owned()
    };
    text.push_str(match q.who.as_str() {
        "anyone" => ", anyone can do it",
        "contractor" => ", by a contractor",
        "laboratory" => ", by a laboratory",
        "engineer" => ", by an engineer",
        _ => "",
    });
    if q.wait_days >= 1.0 {
        let days = q.wait_days;
        text.push_str(&if days >= 60.0 {
            format!("; the answer takes about {:.0} months", days / 30.4)
        } else if days < 1.5 {
            "; the answer takes about a day".to_owned()
        } else {
            format!("; the answer takes about {days:.0} days")
        });
    }
    text
}

pub(super) fn count_word(n: usize) -> String {
    match n {
        2 => "two things".to_owned(),
        3 => "three things".to_owned(),
        4 => "four things".to_owned(),
        n => format!("{n} things"),
    }
}

pub(in crate::report) fn stage_name(stage: &str) -> String {
    match stage {
        "protect" => "Protect what stays",
        "remove" => "Take off what is loose",
        "profile" => "Roughen the surface",
        "cracks" => "Treat the cracks",
        "now" => "Until then",
        "joints" => "Joints",
        "saw" => "Cut the joints",
        "patch" => "Fill the holes",
        "bond" => "Bonding coat",
        "overlay" => "Place the new layer",
        "texture" => "Texture",
        "cure" => "Let it harden slowly",
        "seal" => "Seal",
        "reopen" => "Back in use",
        "replace" => "Replace",
        other => return capital(&other.replace('_', " ")),
    }
    .to_owned()
}

pub(super) fn panels(area: &AreaFinding) -> Vec<Fact> {
    let mut by_verdict: Vec<(String, Vec<&str>)> = Vec::new();
    for panel in &area.panels {
        let words = verdict_words(&panel.verdict);
        match by_verdict.iter_mut().find(|(w, _)| *w == words) {
            Some((_, list)) => list.push(&panel.id),
            None => by_verdict.push((words, vec![&panel.id])),
        }
    }
    by_verdict
        .into_iter()
        .map(|(value, list)| Fact {
            name: list.join(", "),
            value,
        })
        .collect()
}

/// Which risers keep the limits. A broken limit names a value, not a riser: the risers of that
/// height are meant, or, where it is a difference between risers, those farthest from the middle
/// riser.
pub(super) fn within(risers: &[f64], broken: &[f64]) -> Vec<bool> {
    let same = |a: f64, b: f64| (a - b).abs() < 0.05;
    let mut sorted = risers.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let farthest = risers
        .iter()
        .map(|r| (r - middle).abs())
        .fold(0.0, f64::max);
    risers
        .iter()
        .map(|r| {
            !broken.iter().any(|b| {
                if risers.iter().any(|r| same(*r, *b)) {
                    same(*r, *b)
                } else {
                    farthest > 0.05 && same((r - middle).abs(), farthest)
                }
            })
        })
        .collect()
}

/// Width by length, both in the same unit.
pub(super) fn size_words(size: &Size, system: System) -> Option<String> {
    let (w, h) = crate::report::drawings::ground::by(size)?;
    let feet = |mm: f64| {
        let inches = (mm / 25.4).round();
        let (whole, rest) = ((inches / 12.0).floor(), inches % 12.0);
        if rest == 0.0 {
            format!("{whole:.0} ft")
        } else {
            format!("{whole:.0} ft {rest:.0} in")
        }
    };
    let exact = size.width.canonical()?.is_exact() && size.length.canonical()?.is_exact();
    if system == System::Us && exact && w.min(h) >= 304.8 {
        return Some(format!("{} × {}", feet(w), feet(h)));
    }
    Some(size.write(system).replace(" x ", " × "))
}

pub(super) fn surface(area: &AreaRecord, system: System) -> Option<String> {
    if let Some(known) = area.surface.as_ref().and_then(Measured::canonical) {
        return Some(Kind::Area.write(known, system));
    }
    if let Some((w, h)) = area
        .size
        .as_ref()
        .and_then(crate::report::drawings::ground::by)
    {
        return Some(Kind::Area.write(Interval::exact(w * h / 1e6), system));
    }
    let corners: Option<Vec<(f64, f64)>> = area
        .outline
        .iter()
        .map(crate::report::drawings::ground::point)
        .collect();
    let corners = corners.filter(|c| c.len() >= 3)?;
    // Shoelace formula.
    let twice: f64 = corners
        .iter()
        .zip(corners.iter().cycle().skip(1))
        .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
        .sum();
    Some(Kind::Area.write(Interval::exact(twice.abs() / 2.0 / 1e6), system))
}

pub(super) fn kind_word(defect: &Defect) -> String {
    serde_json::to_value(defect.kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

pub(super) fn remark(about: String, text: &str) -> Remark {
    let text = text
        .split("\n\n")
        .map(|p| p.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|p| !p.is_empty())
        .collect();
    Remark { about, text }
}

pub(super) fn iso(date: &str) -> Option<jiff::civil::Date> {
    date.trim().parse().ok()
}

/// A date as people of that system write it; what is no full date stays as written.
pub(super) fn long_date(date: &str, system: System) -> String {
    match iso(date) {
        Some(day) => match system {
            System::Us => day.strftime("%B %-d, %Y").to_string(),
            System::Metric => day.strftime("%-d %B %Y").to_string(),
        },
        // A month without a day.
        None => match iso(&format!("{}-01", date.trim())) {
            Some(day) => day.strftime("%B %Y").to_string(),
            None => date.trim().to_owned(),
        },
    }
}

/// The first letter large.
pub(in crate::report) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// The first letter small, unless the word is written in capitals (ASR, CSP).
pub(super) fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    if chars.clone().next().is_some_and(char::is_uppercase) {
        return text.to_owned();
    }
    first.to_lowercase().chain(chars).collect()
}

/// Without the marks in square brackets that the rules' keepers leave for each other.
pub(in crate::report) fn unmarked(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(" [") {
        let mark = after.split_once(']').filter(|(m, _)| {
            !m.is_empty() && m.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
        });
        out.push_str(before);
        match mark {
            Some((_, after)) => rest = after,
            None => {
                out.push_str(" [");
                rest = after;
            }
        }
    }
    out.push_str(rest);
    out
}

/// With a capital and a full stop.
pub(in crate::report) fn sentence(text: &str) -> String {
    let text = capital(unmarked(text).trim());
    if text.is_empty() || text.ends_with(['.', '!', '?', '…', ':']) {
        text
    } else {
        format!("{text}.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    pub(super) fn chances_are_said_in_tenths() {
        assert_eq!(chance(Interval::exact(0.71)), "about 7 chances in 10");
        assert_eq!(chance(Interval::of(0.38, 0.83)), "4 to 8 chances in 10");
        assert_eq!(chance(Interval::exact(0.99)), "more than 9 chances in 10");
        assert_eq!(chance(Interval::exact(0.001)), "less than 1 chance in 10");
    }

    #[test]
    fn marks_between_keepers_of_the_rules_stay_out() {
        assert_eq!(sentence("2 mm is medium [boundary]."), "2 mm is medium.");
        assert_eq!(sentence("a [boundary] b [see 3] c [x]"), "A b [see 3] c.");
        assert_eq!(sentence("open [ and"), "Open [ and.");
    }

    #[test]
    pub(super) fn dates_are_written_out_or_left() {
        assert_eq!(long_date("2026-06-04", System::Us), "June 4, 2026");
        assert_eq!(long_date("2026-06-04", System::Metric), "4 June 2026");
        assert_eq!(long_date("1998", System::Us), "1998");
        assert_eq!(long_date("1998-07", System::Us), "July 1998");
        assert_eq!(long_date("last spring", System::Us), "last spring");
    }

    #[test]
    pub(super) fn lists_read_as_speech() {
        let list = |n: usize| (1..=n).map(|i| i.to_string()).collect::<Vec<_>>();
        assert_eq!(either(&list(1)), "1");
        assert_eq!(either(&list(3)), "1, 2 or 3");
        assert_eq!(
            gather(&["area A".into(), "defect 1".into(), "defect 4".into()]),
            "area A, defects 1 and 4"
        );
    }

    #[test]
    pub(super) fn steps_at_a_defect_know_its_number() {
        assert_eq!(
            about_defect("Defect 3: fill it"),
            (Some("3".into()), "fill it")
        );
        assert_eq!(about_defect("Defect list: all"), (None, "Defect list: all"));
    }

    #[test]
    pub(super) fn the_odd_riser_is_the_one_marked() {
        assert_eq!(within(&[140.0, 178.0, 178.0], &[38.0]), [false, true, true]);
        assert_eq!(
            within(&[140.0, 210.0, 178.0], &[210.0]),
            [true, false, true]
        );
        assert_eq!(within(&[178.0, 178.0], &[]), [true, true]);
    }

    #[test]
    pub(super) fn abbreviations_keep_their_capitals() {
        assert_eq!(lower_first("Low air"), "low air");
        assert_eq!(lower_first("ASR gel"), "ASR gel");
    }
}
