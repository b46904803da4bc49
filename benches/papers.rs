//! What a paper costs beyond the program's start, in time and in memory.
//!
//! `cargo bench --bench papers` runs the program on a sample with four photos, on the same sample
//! with four photos of twelve and of forty-eight million pixels in their place, and, where the PDF
//! is built in, on the same for a PDF; then it makes many papers in one process. Medians of runs in
//! turn. Limits: a page with four photos within 150 ms beyond start-up, a PDF within 700 ms, 200 MB
//! of memory; photos of forty-eight million pixels are held to the memory alone. Exit code 1 when a
//! limit is missed.

use std::error::Error;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use image::{Rgb, RgbImage};
use ringtrue::cli::{Loading, Work};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::Templates;
use ringtrue::report::{Pages, View, photos};
use ringtrue::source::Problems;

const RUNS: usize = 15;
const SAMPLE: &str = "samples/terrace.yaml";

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Time of a run, and the most memory it held, MB, where the system says so.
fn once(program: &Path, arguments: &[&str]) -> Outcome<(Duration, f64)> {
    let start = Instant::now();
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0.0_f64;
    let ended = loop {
        // A high-water mark: the last look before the end says it all.
        if let Ok(text) = std::fs::read_to_string(&status) {
            let peak = text
                .lines()
                .find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix("kB"))
                .and_then(|n| n.trim().parse::<f64>().ok());
            most = most.max(peak.unwrap_or(0.0) / 1024.0);
        }
        match child.try_wait()? {
            Some(ended) => break ended,
            None => std::thread::sleep(Duration::from_micros(300)),
        }
    };
    let took = start.elapsed();
    if !ended.success() {
        return Err(format!("{} {arguments:?} ended with {ended}", program.display()).into());
    }
    Ok((took, most))
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort_unstable();
    times
        .get(times.len() / 2)
        .map_or(0.0, |t| t.as_secs_f64() * 1e3)
}

/// The sample in a folder of its own, its photos replaced by ones of that many pixels.
fn with_large_photos(folder: &Path, width: u32, height: u32) -> Outcome<String> {
    let text = std::fs::read_to_string(SAMPLE)?;
    std::fs::create_dir_all(folder.join("photos"))?;
    let mut n = 0;
    for part in text.split("{file: ").skip(1) {
        let name = part.split(',').next().unwrap_or_default();
        n += 1;
        let photo = RgbImage::from_fn(width, height, |x, y| {
            // Grain and slow waves, as on concrete: neither flat nor noise alone.
            let grain = (x.wrapping_mul(374_761_393) ^ y.wrapping_mul(668_265_263) ^ n) >> 27;
            let wave = ((f64::from(x) / 190.0).sin() + (f64::from(y) / 140.0).cos()) * 30.0;
            let v = (140.0 + wave + f64::from(grain)).clamp(0.0, 255.0) as u8;
            Rgb([v, v.saturating_sub(4), v.saturating_sub(12)])
        });
        photo.save(folder.join(name))?;
    }
    if n != 4 {
        return Err(format!("{SAMPLE} has {n} photos; this measures four").into());
    }
    let record = folder.join("large.yaml");
    std::fs::write(&record, text)?;
    Ok(record.to_string_lossy().into_owned())
}

/// Papers of one record after another in one process: milliseconds for the first and for each of
/// the others.
fn many(make: impl Fn() -> Outcome<()>) -> Outcome<(f64, f64)> {
    let start = Instant::now();
    make()?;
    let first = start.elapsed().as_secs_f64() * 1e3;
    let rest = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            make().map(|()| start.elapsed())
        })
        .collect::<Outcome<Vec<Duration>>>()?;
    Ok((first, median(rest)))
}

fn main() -> Outcome<ExitCode> {
    let ringtrue = Path::new(env!("CARGO_BIN_EXE_ringtrue"));
    let folder = tempfile::tempdir()?;
    let large = with_large_photos(&folder.path().join("phone"), 4000, 3000)?;
    let largest = with_large_photos(&folder.path().join("camera"), 8000, 6000)?;
    let out = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (page, pdf) = (out("page.html"), out("page.pdf"));
    let mut runs: Vec<(&str, Vec<&str>, f64)> = vec![
        (
            "page, four photos of the sample",
            vec!["report", SAMPLE, "-o", &page, "--force"],
            150.0,
        ),
        (
            "page, four photos of 12 million pixels",
            vec!["report", &large, "-o", &page, "--force"],
            150.0,
        ),
    ];
    runs.push((
        "page, four photos of 48 million pixels",
        vec!["report", &largest, "-o", &page, "--force"],
        f64::INFINITY,
    ));
    if cfg!(feature = "pdf") {
        runs.push((
            "PDF, four photos of the sample",
            vec!["report", SAMPLE, "-o", &pdf, "--force"],
            700.0,
        ));
        runs.push((
            "PDF, four photos of 12 million pixels",
            vec!["report", &large, "-o", &pdf, "--force"],
            700.0,
        ));
        runs.push((
            "PDF, four photos of 48 million pixels",
            vec!["report", &largest, "-o", &pdf, "--force"],
            f64::INFINITY,
        ));
    }
    let mut nothing = Vec::new();
    let mut times: Vec<Vec<Duration>> = vec![Vec::new(); runs.len()];
    let mut most = vec![0.0_f64; runs.len()];
    for _ in 0..RUNS {
        nothing.push(once(ringtrue, &["--version"])?.0);
        for (((_, arguments, _), times), most) in runs.iter().zip(&mut times).zip(&mut most) {
            let (took, memory) = once(ringtrue, arguments)?;
            times.push(took);
            *most = most.max(memory);
        }
    }
    let nothing = median(nothing);
    println!("medians of {RUNS} runs; the program's start takes {nothing:.1} ms");
    let mut kept = true;
    for (((what, _, limit), times), most) in runs.iter().zip(times).zip(most) {
        let took = median(times) - nothing;
        let fine = took <= *limit && most < 200.0;
        kept &= fine;
        println!(
            "{what:<42} {took:7.1} ms beyond start, limit {limit:4.0} ms; {most:5.0} MB, limit 200 MB   {}",
            if fine { "kept" } else { "MISSED" }
        );
    }

    let loading = Loading {
        record: SAMPLE.into(),
        house_rules: None,
    };
    let Ok(work) = Work::load(&loading) else {
        return Err("the sample does not load".into());
    };
    let photos = photos::load(&work.folder, &work.loaded.record, &mut Problems::default());
    let view = View::build(work.sources(&photos));
    let (templates, phrases) = (Templates::default(), Phrases::built_in("en")?);
    let pages = Pages::new(&templates)?;
    let (first, rest) = many(|| {
        pages.render("report.html", &view, &phrases, None)?;
        Ok(())
    })?;
    println!("many pages in one process: first {first:.1} ms, then {rest:.1} ms each");
    #[cfg(feature = "pdf")]
    {
        use ringtrue::report::pdf::{Setting, Sheet, write};
        let setting = Setting {
            sheet: Sheet::Letter,
            accessible: false,
            templates: &templates,
            phrases: &phrases,
            letterhead: None,
        };
        let (first, rest) = many(|| {
            write("report.typ", &view, &photos, None, &setting)?;
            Ok(())
        })?;
        println!("many PDFs in one process: first {first:.1} ms, then {rest:.1} ms each");
    }
    Ok(ExitCode::from(u8::from(!kept)))
}
