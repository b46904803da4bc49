//! `ringtrue drill`: practice for apprentices.

mod method;

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use crate::drill::{
    Case, LESSON, Lesson, Level, Outcome, Part, Play, Scores, Step, agree, make, samples, worked,
};
use crate::rules::Pack;
use crate::source::{Problems, SourceFile};

use super::output::write_whole;
use super::say::Talk;
use super::work::{Stop, read_text, rules};
use super::{Screen, print_all};

/// Practise: a case a finding at a time, cause, verdict and method, then the expert's way beside yours.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue drill                             a case from the samples and the worked cases
  ringtrue drill --topic crack               only cracks
  ringtrue drill --topic method              only how the work is done; cause and verdict are told
  ringtrue drill --topic method/bond         only how it is bonded
  ringtrue drill --level hard                cases made from the rules, with causes close together
  ringtrue drill --lesson frost.yaml         the cases of a trainer's lesson
  ringtrue drill --write-lesson mine.yaml    a lesson to write over
  ringtrue drill --check mine.yaml           every slip of a lesson, and where the rules say otherwise
  ringtrue drill --score                     your scores by topic

A test costs the minutes it takes on a slab. Type its number to do it; `answer` when you have seen
enough; `stop` to end. Then cause, verdict, and how the work is done: of the steps listed some belong
here and some do not; type numbers or letters (`1 3`, `a c`), `?` when you don't know. What you missed
comes back soon, what you knew comes back later.

Scores are kept in a plain file of yours: --scores FILE, or drill.yaml in the folder for data of
your system (RINGTRUE_DATA, if set).

Exit codes: 0 fine, 1 a lesson or the scores have problems, 2 a file can't be read or written.")]
pub struct Args {
    /// Lesson of a trainer to take the cases from.
    #[arg(long, value_name = "FILE", conflicts_with = "level")]
    lesson: Option<PathBuf>,
    /// Make cases from the rules, this hard.
    #[arg(long, value_enum)]
    level: Option<Hard>,
    /// Only cases of this kind of defect, such as `scaling` or `crack`; or only the method, or a part
    /// of it: `method`, `method/prep`.
    #[arg(long, value_name = "KIND")]
    topic: Option<String>,
    /// End after this many cases.
    #[arg(short = 'n', long, value_name = "N", default_value_t = 1)]
    cases: u32,
    /// Start of the row of made cases, and of the order of new ones.
    #[arg(long, value_name = "N", default_value_t = 0)]
    seed: u64,
    /// File the scores are kept in.
    #[arg(long, value_name = "FILE")]
    scores: Option<PathBuf>,
    /// Print the scores by topic.
    #[arg(long, conflicts_with_all = ["check", "write_lesson", "list"])]
    score: bool,
    /// Check a lesson.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["write_lesson", "list"])]
    check: Option<PathBuf>,
    /// Write the lesson that ships with the program, as a pattern for others.
    #[arg(long, value_name = "FILE")]
    write_lesson: Option<PathBuf>,
    /// List the cases there are.
    #[arg(long)]
    list: bool,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
}

/// How hard a made case is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Hard {
    /// One cause stands far before the others.
    Easy,
    /// One leads clearly.
    Fair,
    /// Two are close.
    Hard,
}

impl Hard {
    fn level(self) -> Level {
        match self {
            Hard::Easy => Level::Easy,
            Hard::Fair => Level::Fair,
            Hard::Hard => Level::Hard,
        }
    }
}

/// Runs the command.
///
/// # Errors
/// When a lesson or the scores can't be read or written, or output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    if let Some(path) = &args.write_lesson {
        write_whole(path, LESSON.as_bytes(), false)?;
        let shown = path.display();
        return print_all(
            format!("{shown} is written. Write it over, then: ringtrue drill --check {shown}\n")
                .as_bytes(),
        );
    }
    let pack = match rules(args.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    if let Some(path) = &args.check {
        return check(path, &pack, screen);
    }
    let kept = match &args.scores {
        Some(path) => path.clone(),
        None => usual_place()?,
    };
    let mut scores = match read_scores(&kept) {
        Ok(scores) => scores,
        Err(stop) => return stop.tell(screen),
    };
    if args.score {
        return print_all(score_sheet(&scores, &pack, &kept).as_bytes());
    }
    let cases = match pool(args, &pack) {
        Ok(cases) => cases,
        Err(stop) => return stop.tell(screen),
    };
    if args.list {
        let mut out = String::new();
        for case in &cases {
            out += &format!("{}: {}\n", case.id, kind_name(&pack, &case.topic));
        }
        return print_all(out.as_bytes());
    }
    let input = std::io::stdin().lock();
    let out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut talk = Talk::new(input, out, screen.out_colour, screen.width);
    for round in 0..args.cases.max(1) {
        let Some(case) = next_case(args, &pack, &cases, &scores) else {
            talk.line("", "There is no case of this kind.")?;
            talk.flush()?;
            return Ok(ExitCode::from(1));
        };
        if round > 0 {
            talk.gap()?;
        }
        let turn = args.seed.wrapping_add(u64::from(scores.done));
        let went = match method_asked(args) {
            None => play(&pack, &case, &scores, turn, &mut talk)?,
            Some(part) => {
                method::practise(&pack, &case, part, turn, &mut talk)?.map(|method| Went {
                    answers: None,
                    method,
                })
            }
        };
        let Some(went) = went else {
            talk.line("", "Ended; this case does not count.")?;
            break;
        };
        match went.answers {
            Some((cause, verdict)) => {
                scores.note(&case.id, &case.topic, cause, verdict);
                for (part, right) in &went.method {
                    scores.note_part(&case.id, *part, *right);
                }
            }
            None => scores.note_method(&case.id, &went.method),
        }
        if let Some(folder) = kept.parent().filter(|p| !p.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .with_context(|| format!("can't make {}", folder.display()))?;
        }
        write_whole(&kept, scores.text().as_bytes(), true)?;
        let mine = scores.topics();
        if went.answers.is_none() {
            talk.dim("", &format!("Kept in {}", kept.display()))?;
        } else if let Some(t) = mine.iter().find(|t| t.topic == case.topic) {
            talk.dim(
                "",
                &format!(
                    "{}: cause right {} of {}, verdict right {} of {}. Kept in {}",
                    kind_name(&pack, &t.topic),
                    t.cause,
                    t.asked,
                    t.verdict,
                    t.asked,
                    kept.display()
                ),
            )?;
        }
    }
    talk.flush()?;
    Ok(ExitCode::SUCCESS)
}

fn check(path: &Path, pack: &Pack, screen: Screen) -> anyhow::Result<ExitCode> {
    let file = read_text(path)?;
    let mut problems = Problems::default();
    let lesson = Lesson::read(&file, &pack.vocabulary, &mut problems);
    if let Some(lesson) = &lesson {
        agree(pack, lesson, &file, &mut problems);
    }
    let lesson = lesson.filter(|_| !problems.has_errors());
    let mut out = String::new();
    if !problems.is_empty() {
        out += &problems.render(screen.out_colour);
        out.push('\n');
    }
    out += &match &lesson {
        Some(l) => format!("{}: {}, {} cases.\n", file.name, l.title, l.cases.len()),
        None => format!("{}: the lesson can't be used yet.\n", file.name),
    };
    print_all(out.as_bytes())?;
    Ok(ExitCode::from(u8::from(lesson.is_none())))
}

/// The cases to choose from.
fn pool(args: &Args, pack: &Pack) -> Result<Vec<Case>, Stop> {
    let mut cases = match &args.lesson {
        Some(path) => {
            let file = read_text(path)?;
            let mut problems = Problems::default();
            let lesson = Lesson::read(&file, &pack.vocabulary, &mut problems);
            if let Some(lesson) = &lesson {
                agree(pack, lesson, &file, &mut problems);
            }
            match lesson.filter(|_| !problems.has_errors()) {
                Some(lesson) => lesson.cases,
                None => return Err(Stop::Problems(problems)),
            }
        }
        None if args.level.is_some() => Vec::new(),
        None => {
            let mut all = worked(&pack.vocabulary);
            all.extend(samples(&pack.vocabulary));
            all
        }
    };
    if let Some(topic) = &args.topic
        && method_asked(args).is_none()
    {
        let word = topic.replace([' ', '-'], "_");
        cases.retain(|c| c.topic == word);
    }
    Ok(cases)
}

/// Whether only the method is practised, and which part of it, if one only.
fn method_asked(args: &Args) -> Option<Option<Part>> {
    match args.topic.as_deref()?.split_once('/') {
        None => (args.topic.as_deref() == Some("method")).then_some(None),
        Some(("method", part)) => Part::of_word(part).map(Some),
        Some(_) => None,
    }
}

/// Made cases tried for one that has a part of the method.
const TRIES: u64 = 20;

/// The next case of which the method, or a part of it, can be asked.
fn next_method(
    args: &Args,
    pack: &Pack,
    cases: &[Case],
    scores: &Scores,
    part: Option<Part>,
) -> Option<Case> {
    let turn = args.seed.wrapping_add(u64::from(scores.done));
    let has = |case: &Case| {
        let quiz = Play::new(pack, case).method(turn);
        let mut parts = quiz.questions.iter().map(|q| q.part);
        parts.any(|own| part.is_none_or(|p| p == own))
    };
    if let Some(level) = args.level {
        let level = level.level();
        let head = format!("made-{}-", level.word());
        let due = scores.method.keys().map(String::as_str).filter(|id| {
            let due = scores.method_due(id, part);
            seed_of(id, &head, "").is_some() && due.is_some_and(|d| d <= scores.done)
        });
        let due: Vec<&str> = due.collect();
        let again = scores.next_method(&due, part, turn);
        let again = again.and_then(|id| seed_of(id, &head, ""));
        let new = (0..TRIES).map(|i| turn.wrapping_mul(TRIES).wrapping_add(i));
        let mut made = (again.into_iter().chain(new)).filter_map(|s| make(pack, level, s, None));
        return made.find(has);
    }
    let mut ids: Vec<&str> = cases.iter().map(|c| c.id.as_str()).collect();
    loop {
        let id = scores.next_method(&ids, part, turn)?;
        let case = cases.iter().find(|c| c.id == id)?;
        if has(case) {
            return Some(case.clone());
        }
        ids.retain(|other| *other != id);
    }
}

/// The next case: one that is due again, else a new one.
fn next_case(args: &Args, pack: &Pack, cases: &[Case], scores: &Scores) -> Option<Case> {
    if let Some(part) = method_asked(args) {
        return next_method(args, pack, cases, scores, part);
    }
    let turn = args.seed.wrapping_add(u64::from(scores.done));
    if let Some(level) = args.level {
        let level = level.level();
        let topic = args.topic.as_ref().map(|t| t.replace([' ', '-'], "_"));
        let tail = topic.as_ref().map_or_else(String::new, |t| format!("-{t}"));
        let head = format!("made-{}-", level.word());
        // A made case that was missed is made again from the number in its name.
        let made: Vec<&str> = scores
            .cases
            .keys()
            .map(String::as_str)
            .filter(|id| seed_of(id, &head, &tail).is_some())
            .filter(|id| scores.due(id).is_some_and(|due| due <= scores.done))
            .collect();
        let seed = scores
            .next(&made, turn)
            .and_then(|id| seed_of(id, &head, &tail));
        return make(pack, level, seed.unwrap_or(turn), topic.as_deref());
    }
    let mut ids: Vec<&str> = cases.iter().map(|c| c.id.as_str()).collect();
    loop {
        let id = scores.next(&ids, turn)?;
        let case = cases.iter().find(|c| c.id == id)?;
        // A case without causes to tell apart can't be asked.
        if !Play::new(pack, case).causes().is_empty() {
            return Some(case.clone());
        }
        ids.retain(|other| *other != id);
    }
}

fn seed_of(id: &str, head: &str, tail: &str) -> Option<u64> {
    id.strip_prefix(head)?.strip_suffix(tail)?.parse().ok()
}

/// How a case went.
struct Went {
    /// Whether cause and verdict were right, where they were asked.
    answers: Option<(bool, bool)>,
    method: Vec<(Part, bool)>,
}

/// Says what a case is about, what is asked of it, and what is seen at once.
fn open_case<R: BufRead, W: Write>(
    pack: &Pack,
    play: &Play<'_>,
    case: &Case,
    asked: &str,
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    talk.gap()?;
    let kind = kind_name(pack, &case.topic);
    talk.bold(
        "",
        &format!("A case: {kind}, defect {}. {asked}", number(case)),
    )?;
    play.opening()
        .iter()
        .try_for_each(|line| talk.line("  ", line))
}

/// Plays a case. `None` when it was ended before the verdict.
fn play<R: BufRead, W: Write>(
    pack: &Pack,
    case: &Case,
    scores: &Scores,
    turn: u64,
    talk: &mut Talk<R, W>,
) -> anyhow::Result<Option<Went>> {
    let mut play = Play::new(pack, case);
    open_case(
        pack,
        &play,
        case,
        "What is the cause, what is to be done, and how?",
        talk,
    )?;
    loop {
        let left: Vec<usize> = play
            .tests()
            .iter()
            .enumerate()
            .filter(|(_, t)| t.turn == 0)
            .map(|(i, _)| i)
            .collect();
        if left.is_empty() {
            talk.line("", "There is nothing left to test.")?;
            break;
        }
        talk.gap()?;
        talk.bold(
            "",
            &format!(
                "Which test? {} min spent. Its number, `answer`, or `stop`; `? 3` tells how test 3 is done.",
                play.minutes()
            ),
        )?;
        for (n, &i) in left.iter().enumerate() {
            if let Some(t) = play.tests().get(i) {
                let wait = match t.wait_days {
                    d if d >= 1.0 => format!(" and {d:.0} days"),
                    _ => String::new(),
                };
                talk.line(
                    &format!("  {:>2}  ", n + 1),
                    &format!("{} ({} min{wait}; {})", t.name, t.minutes, t.about),
                )?;
            }
        }
        let Some(line) = talk.ask()? else {
            return Ok(None);
        };
        let low = line.to_lowercase();
        match low.as_str() {
            "stop" | "quit" | "exit" => return Ok(None),
            "answer" | "a" => break,
            _ => {}
        }
        if let Some(rest) = low.strip_prefix('?') {
            let test = rest
                .trim()
                .parse::<usize>()
                .ok()
                .and_then(|n| left.get(n.checked_sub(1)?))
                .and_then(|&i| play.tests().get(i))
                .cloned();
            match test {
                Some(t) => {
                    talk.line("  ", &t.ask)?;
                    for caution in &t.cautions {
                        talk.alert("  CAUTION: ", caution)?;
                    }
                    talk.line("  ", &t.measure)?;
                }
                None => talk.line("  ", "write `? 1` for the first test")?,
            }
            continue;
        }
        let chosen = line
            .parse::<usize>()
            .ok()
            .and_then(|n| left.get(n.checked_sub(1)?))
            .copied();
        match chosen.and_then(|i| play.take(i).cloned()) {
            Some(t) => {
                for caution in &t.cautions {
                    talk.alert("  CAUTION: ", caution)?;
                }
                talk.line("  ", &t.measure)?;
                talk.bold("  -> ", &format!("{}: {}", t.name, t.finds))?;
            }
            None => talk.line(
                "  ",
                &format!("type a number from 1 to {}, `answer` or `stop`", left.len()),
            )?,
        }
    }
    let mut causes: Vec<(String, String)> = play
        .causes()
        .into_iter()
        .map(|(c, _)| (c.word, c.name))
        .collect();
    // In an order that gives nothing away.
    causes.sort_by(|a, b| a.1.cmp(&b.1));
    let verdicts: Vec<(String, String)> = play
        .verdicts()
        .into_iter()
        .map(|c| (c.word, c.name))
        .collect();
    let Some(cause) = choose("What is the cause?", &causes, talk)? else {
        return Ok(None);
    };
    let Some(verdict) = choose("What is to be done?", &verdicts, talk)? else {
        return Ok(None);
    };
    let outcome = play.judge(&cause, &verdict);
    let mut quiz = play.method(turn);
    let any = !quiz.questions.is_empty();
    // A part that was right the last time waits for its turn, as cases do.
    let parts = scores.method.get(&case.id);
    quiz.questions.retain(|q| {
        let mark = parts.and_then(|p| p.get(&q.part));
        mark.is_none_or(|m| m.row == 0 || m.due <= scores.done)
    });
    if any && quiz.questions.is_empty() {
        talk.dim(
            "",
            "You knew the method the last time; it comes again later.",
        )?;
    }
    let marked = method::ask(&quiz, talk)?;
    tell(case, &outcome, talk)?;
    method::tell(&quiz, &marked, talk)?;
    if let Some(says) = &case.says {
        talk.line("  ", &format!("Your trainer: {says}"))?;
    }
    if let Some(source) = &case.source {
        talk.dim("  ", &format!("After: {source}"))?;
    }
    talk.gap()?;
    Ok(Some(Went {
        answers: Some((outcome.cause_right, outcome.verdict_right)),
        method: method::parts(&marked),
    }))
}

/// Number of the defect that a case asks about.
fn number(case: &Case) -> u32 {
    let area = case.loaded.record.areas.get(case.area);
    area.and_then(|a| a.defects.get(case.defect))
        .map_or(0, |d| d.id)
}

fn choose<R: BufRead, W: Write>(
    ask: &str,
    from: &[(String, String)],
    talk: &mut Talk<R, W>,
) -> anyhow::Result<Option<String>> {
    talk.gap()?;
    talk.bold("", ask)?;
    let names: Vec<&str> = from.iter().map(|(_, n)| n.as_str()).collect();
    talk.picks(&names)?;
    loop {
        let Some(line) = talk.ask()? else {
            return Ok(None);
        };
        let low = line.trim().to_lowercase();
        if matches!(low.as_str(), "stop" | "quit" | "exit") {
            return Ok(None);
        }
        let found = match low.parse::<usize>() {
            Ok(n) => n.checked_sub(1).and_then(|i| from.get(i)),
            Err(_) => from
                .iter()
                .find(|(w, n)| *w == low.replace(' ', "_") || n.to_lowercase() == low),
        };
        match found {
            Some((word, _)) => return Ok(Some(word.clone())),
            None => talk.line("  ", &format!("type a number from 1 to {}", from.len()))?,
        }
    }
}

fn tell<R: BufRead, W: Write>(
    case: &Case,
    o: &Outcome,
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    let mark = |right: bool| if right { "right" } else { "not so" };
    talk.gap()?;
    talk.bold("== ", &format!("{} ==", case.title))?;
    talk.line(
        "  ",
        &format!("Cause, {}: {}", mark(o.cause_right), o.causes.join(", or ")),
    )?;
    for line in &o.speaks_for {
        talk.line("    + ", line)?;
    }
    talk.line(
        "  ",
        &format!(
            "Verdict, {}: {}",
            mark(o.verdict_right),
            o.verdicts.join(", or ")
        ),
    )?;
    for line in &o.verdict_because {
        talk.line("    + ", line)?;
    }
    if !o.verdict_why.is_empty() {
        talk.line("  ", "Why not what you said:")?;
        for line in &o.verdict_why {
            talk.line("    - ", line)?;
        }
    }
    if let Some((name, why)) = &o.tempting {
        let lead = match o.cause_right {
            true => "Tempting, and wrong",
            false => "Why it is not what you said",
        };
        talk.line("  ", &format!("{lead}: {name}"))?;
        for line in why {
            talk.line("    - ", line)?;
        }
    }
    talk.gap()?;
    way("Your way", &o.own, talk)?;
    way("The expert's way", &o.expert, talk)?;
    if !o.missed.is_empty() {
        talk.bold("  ", "What you did not look at, and it tells")?;
        for line in &o.missed {
            talk.line("    - ", line)?;
        }
    }
    if !o.wasted.is_empty() {
        talk.bold("  ", "Minutes that could change nothing any more")?;
        for line in &o.wasted {
            talk.line("    - ", line)?;
        }
    }
    talk.gap()
}

fn way<R: BufRead, W: Write>(
    title: &str,
    steps: &[Step],
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    let minutes = steps.iter().map(|s| s.minutes).fold(0.0, |a, b| a + b);
    talk.bold("  ", &format!("{title}: {minutes} min"))?;
    if steps.is_empty() {
        return talk.line("    ", "no test");
    }
    for (i, s) in steps.iter().enumerate() {
        let mark = if s.useful {
            ""
        } else {
            "  (could change nothing)"
        };
        talk.line(
            &format!("    {:>2}. ", i + 1),
            &format!("{}: {}  {} min{mark}", s.name, s.finds, s.minutes),
        )?;
    }
    Ok(())
}

fn kind_name(pack: &Pack, topic: &str) -> String {
    pack.vocabulary
        .find("kind")
        .and_then(|id| {
            pack.vocabulary
                .fact(id)
                .values()
                .iter()
                .find(|v| v.id == topic)
        })
        .map_or_else(|| topic.replace('_', " "), |v| v.name.clone())
}

fn score_sheet(scores: &Scores, pack: &Pack, kept: &Path) -> String {
    if scores.done == 0 {
        return format!(
            "No case done yet. Scores will be kept in {}\n",
            kept.display()
        );
    }
    let topics = scores.topics();
    let mut out = format!("{} cases done. Kept in {}\n", scores.done, kept.display());
    let width = topics
        .iter()
        .map(|t| kind_name(pack, &t.topic).chars().count())
        .max()
        .unwrap_or(0);
    for t in topics {
        out += &format!(
            "  {:width$}  cause {} of {}, verdict {} of {}{}\n",
            kind_name(pack, &t.topic),
            t.cause,
            t.asked,
            t.verdict,
            t.asked,
            again(t.due)
        );
    }
    let parts = scores.parts();
    if !parts.is_empty() {
        out += "Method\n";
    }
    let width = parts.iter().map(|p| p.part.name().len()).max().unwrap_or(0);
    for p in parts {
        out += &format!(
            "  {:width$}  right {} of {}{}\n",
            p.part.name(),
            p.right,
            p.asked,
            again(p.due)
        );
    }
    out
}

/// How many cases are due again.
fn again(due: u32) -> String {
    match due {
        0 => String::new(),
        1 => "; 1 case is due again".to_owned(),
        n => format!("; {n} cases are due again"),
    }
}

fn read_scores(path: &Path) -> Result<Scores, Stop> {
    if !path.exists() {
        return Ok(Scores::default());
    }
    let file: SourceFile = read_text(path)?;
    let mut problems = Problems::default();
    Scores::read(&file, &mut problems).ok_or(Stop::Problems(problems))
}

/// The file of scores where none is named.
fn usual_place() -> anyhow::Result<PathBuf> {
    let var = |name: &str| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    if let Some(own) = var("RINGTRUE_DATA") {
        return Ok(own.join("drill.yaml"));
    }
    let folder = if cfg!(windows) {
        var("APPDATA")
    } else if cfg!(target_os = "macos") {
        var("HOME").map(|h| h.join("Library").join("Application Support"))
    } else {
        var("XDG_DATA_HOME").or_else(|| var("HOME").map(|h| h.join(".local").join("share")))
    };
    match folder {
        Some(folder) => Ok(folder.join("ringtrue").join("drill.yaml")),
        None => bail!("your system names no folder for data; give `--scores FILE`"),
    }
}
