//! Asking how the work is done, and holding the answers beside the expert's.

use std::collections::HashSet;
use std::io::{BufRead, Write};

use crate::drill::{Case, Marked, Part, Pick, Play, Question, Quiz};
use crate::rules::Pack;
use crate::units::capital;

use super::super::say::Talk;
use super::open_case;

/// Only the method of a case, or a part of it: what was found, the cause and the verdict are told.
/// What is kept in the scores; `None` when the person stops before the first answer.
pub fn practise<R: BufRead, W: Write>(
    pack: &Pack,
    case: &Case,
    part: Option<Part>,
    turn: u64,
    talk: &mut Talk<R, W>,
) -> std::io::Result<Option<Vec<(Part, bool)>>> {
    let play = Play::new(pack, case);
    open_case(pack, &play, case, "How is the work done?", talk)?;
    for test in play.tests() {
        talk.line(
            "  ",
            &format!("{}: {}: {}", test.about, test.name, test.finds),
        )?;
    }
    if let Some((cause, _)) = play.causes().first() {
        talk.line("  ", &format!("The likeliest cause: {}", cause.name))?;
    }
    let mut quiz = play.method(turn);
    quiz.questions
        .retain(|q| part.is_none_or(|only| only == q.part));
    let marked = ask(&quiz, talk)?;
    if marked.is_empty() {
        return Ok(None);
    }
    talk.gap()?;
    talk.bold("== ", &format!("{} ==", case.title))?;
    tell(&quiz, &marked, talk)?;
    Ok(Some(parts(&marked)))
}

/// Asks every question. Ends early, with what was answered so far, when the person stops.
pub fn ask<'q, R: BufRead, W: Write>(
    quiz: &'q Quiz,
    talk: &mut Talk<R, W>,
) -> std::io::Result<Vec<Marked<'q>>> {
    let mut out = Vec::new();
    if quiz.questions.is_empty() {
        return Ok(out);
    }
    talk.gap()?;
    talk.line(
        "",
        &format!(
            "By the rules this comes to: {}. Now the method.",
            quiz.verdict
        ),
    )?;
    let mut warned: HashSet<&str> = HashSet::new();
    for (n, question) in quiz.questions.iter().enumerate() {
        talk.gap()?;
        let how = match (question.one, question.order) {
            (true, _) => "One is right.",
            (_, true) => "All of them, first to last, such as `2 3 1`.",
            _ => "One or more are right.",
        };
        talk.bold(
            "",
            &format!(
                "{} of {}. {} {how}",
                n + 1,
                quiz.questions.len(),
                question.ask
            ),
        )?;
        for (row, caution) in &question.cautions {
            if warned.insert(row) {
                talk.alert("  CAUTION: ", caution)?;
            }
        }
        for (i, pick) in question.picks.iter().enumerate() {
            talk.line(&format!("  {:>2}  ", i + 1), &pick.text)?;
        }
        let Some(chosen) = answer(question, talk)? else {
            if n > 0 {
                talk.line("  ", "The rest of the method does not count.")?;
            }
            break;
        };
        out.push(question.mark(&chosen));
    }
    Ok(out)
}

/// The answers chosen, by index; none where the person does not know. `None` when he stops.
fn answer<R: BufRead, W: Write>(
    question: &Question,
    talk: &mut Talk<R, W>,
) -> std::io::Result<Option<Vec<usize>>> {
    loop {
        let Some(line) = talk.ask()? else {
            return Ok(None);
        };
        let low = line.trim().to_lowercase();
        if matches!(low.as_str(), "stop" | "quit" | "exit") {
            return Ok(None);
        }
        match chosen(&low, question.picks.len()) {
            Some(list) if question.order && !list.is_empty() && !each_once(&list, question) => {
                talk.line("  ", "each of them once")?
            }
            Some(list) if !question.one || list.len() <= 1 => return Ok(Some(list)),
            Some(_) => talk.line("  ", "one only: which?")?,
            None => talk.line(
                "  ",
                "type numbers or letters, such as `1 3` or `a c`; `?` when you don't know",
            )?,
        }
    }
}

fn each_once(list: &[usize], question: &Question) -> bool {
    let different: HashSet<&usize> = list.iter().collect();
    list.len() == question.picks.len() && different.len() == list.len()
}

/// Numbers from 1 or letters from a, with spaces or commas between; `?` for none of them.
fn chosen(text: &str, count: usize) -> Option<Vec<usize>> {
    if matches!(
        text,
        "?" | "don't know" | "dont know" | "not known" | "unknown"
    ) {
        return Some(Vec::new());
    }
    let mut out = Vec::new();
    let inside = |i: usize| (i < count).then_some(i);
    for word in text.split([' ', ',', ';', '+']).filter(|w| !w.is_empty()) {
        match word.parse::<usize>() {
            Ok(n) => out.push(inside(n.checked_sub(1)?)?),
            Err(_) => {
                for letter in word.bytes() {
                    out.push(inside(usize::from(letter.checked_sub(b'a')?))?);
                }
            }
        }
    }
    (!out.is_empty()).then_some(out)
}

/// What was right of the method, missed, and wrong, with the rules that say so.
pub fn tell<R: BufRead, W: Write>(
    quiz: &Quiz,
    marked: &[Marked<'_>],
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    if let Some(why) = &quiz.left_out {
        talk.line("  ", &format!("Nothing is asked on the method here. {why}"))?;
        return talk.gap();
    }
    if marked.is_empty() {
        return Ok(());
    }
    let right = marked.iter().filter(|m| m.right).count();
    talk.bold(
        "  ",
        &format!(
            "The expert's method beside yours: {right} of {} parts right",
            marked.len()
        ),
    )?;
    for m in marked {
        let unknown = m.hit.is_empty() && m.wrong.is_empty() && !m.question.order;
        let word = match (m.right, unknown) {
            (true, _) => "right",
            (false, true) => "not known",
            (false, false) => "not so",
        };
        talk.line(
            "  ",
            &format!("{}, {word}", capital(m.question.part.name())),
        )?;
        if m.question.order {
            for (n, pick) in m.hit.iter().chain(&m.missed).enumerate() {
                talk.line(&format!("    {}. ", n + 1), &pick.text)?;
            }
            continue;
        }
        for pick in &m.hit {
            talk.line("    + ", &pick.text)?;
        }
        for pick in &m.missed {
            talk.line("    ! ", &format!("You missed: {}", pick.text))?;
            because(pick, talk)?;
        }
        for pick in &m.wrong {
            talk.line("    - ", &format!("Not here: {}", pick.text))?;
            because(pick, talk)?;
        }
    }
    talk.gap()
}

fn because<R: BufRead, W: Write>(pick: &Pick, talk: &mut Talk<R, W>) -> std::io::Result<()> {
    talk.dim(
        "        ",
        &format!("{} (rule {}: {})", pick.why, pick.rule, pick.source),
    )
}

/// What is kept in the scores.
pub fn parts(marked: &[Marked<'_>]) -> Vec<(Part, bool)> {
    marked.iter().map(|m| (m.question.part, m.right)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_letters_are_taken_and_nothing_else() {
        assert_eq!(chosen("1 3", 4), Some(vec![0, 2]));
        assert_eq!(chosen("a,c", 4), Some(vec![0, 2]));
        assert_eq!(chosen("ac", 4), Some(vec![0, 2]));
        assert_eq!(chosen("?", 4), Some(vec![]));
        assert_eq!(chosen("don't know", 4), Some(vec![]));
        for wrong in ["", "0", "5", "e", "1 x", "-1", "é"] {
            assert_eq!(chosen(wrong, 4), None, "{wrong}");
        }
    }
}
