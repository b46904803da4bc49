//! What is exported to DMN, line by line, for a small pack. The lines were written by hand from the
//! header of `rules::dmn` and the words of DMN 1.3; `tests/dmn_engine.rs` runs a whole export in
//! another engine.

use ringtrue::rules::{Pack, PackFile, canonical_unit, dmn, load_and_check};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::units::Kind;

const FACTS: &str = r#"
facts:
  kind: {scope: defect, name: kind, kind: choice, values: [scaling, crack], ask: 'Is it <scaling> & "loss"?', minutes: 1, comes: asked}
  depth: {scope: defect, name: depth of loss, kind: length, range: 0 mm to 100 mm, ask: How deep?, minutes: 5, comes: asked}
  stones: {scope: defect, name: stones, kind: choice, values: [hidden, showing, missing], ordered: yes, ask: Do stones show?, minutes: 1, comes: asked}
  grade: {scope: defect, name: scaling grade, kind: choice, values: [none, light, severe], ordered: yes, comes: made}
  cause: {scope: defect, name: cause, kind: choice, values: [low_air], comes: made}
  urgent: {scope: defect, name: urgent, kind: flag, comes: made, read_by: [assessment]}
causes:
  low_air: {name: too little air, plain: P., at_work: in frost, stops_by: drying}
"#;

const TABLES: [&str; 4] = [
    r#"
table: grading
title: Grading
kind: grade
scope: defect
applies: {kind: scaling}
otherwise: none
question: How bad?
hit: first
gives: grade
rows:
  - {id: g-stones, when: {stones: missing}, then: severe, because: Stones are out., source: S, provenance: practice}
  - {id: g-deep, when: {depth: '[10 mm..20 mm)'}, then: severe, because: Deep., source: S, provenance: practice}
  - {id: g-odd, when: {depth: '(2 mm..3 mm], 5 mm'}, then: light, because: Odd., source: S, provenance: practice}
  - {id: g-deepest, when: {depth: '> 50 mm'}, then: severe, because: Deepest., source: S, provenance: practice}
  - {id: g-deeper, when: {depth: '>= 20 mm'}, then: severe, because: Deeper., source: S, provenance: practice}
  - {id: g-trace, when: {depth: '< 1 mm'}, then: none, because: A trace., source: S, provenance: practice}
  - {id: g-some, when: {depth: '<= 1 mm'}, then: light, because: Some., source: S, provenance: practice}
  - {id: g-rest, then: light, because: The rest., source: S, provenance: practice}
"#,
    r#"
table: haste
title: Haste
kind: grade
scope: defect
applies: {kind: crack}
scale: ours
question: Is it urgent?
hit: unique
gives: urgent
rows:
  - {id: h-yes, when: {cause: low_air, stones: '>= showing'}, then: yes, because: It goes on., source: S, provenance: practice}
  - {id: h-no, when: {stones: hidden}, then: no, because: It rests., source: S, provenance: practice}
"#,
    r#"
table: signs
title: Signs
kind: grade
scope: defect
question: What else?
hit: collect
rows:
  - {id: s-grade, when: {grade: severe}, set: {caution: Mind the edge.}, because: It is deep., source: S, provenance: practice}
"#,
    r#"
table: why
title: Why
kind: evidence
scope: defect
question: What did it?
gives: cause
causes: [low_air]
rows:
  - {id: w-stones, when: {stones: missing}, push: {low_air: 2}, because: It is so., source: S, provenance: practice}
"#,
];

fn pack() -> Pack {
    let mut problems = Problems::default();
    let files: Vec<PackFile> = std::iter::once(FACTS)
        .chain(TABLES)
        .enumerate()
        .filter_map(|(i, text)| {
            let file = SourceFile::new(format!("{i}.yaml"), text);
            PackFile::read(file, false, &mut problems)
        })
        .collect();
    load_and_check(&files, &mut problems).unwrap_or_else(|| panic!("{}", problems.render(false)))
}

/// What stands between tags, with the marks of XML read back.
fn texts<'a>(xml: &'a str, open: &str, close: &str) -> Vec<String> {
    let read = |part: &'a str| {
        let (text, _) = part.split_once(close).unwrap();
        text.replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&quot;", "\"")
            .replace("&amp;", "&")
    };
    xml.split(open).skip(1).map(read).collect()
}

/// The rules of a decision: conditions, result, row, as written, because, source.
fn rules(xml: &str, decision: &str) -> Vec<Vec<String>> {
    let (_, rest) = xml
        .split_once(&format!("<decision name=\"{decision}\""))
        .unwrap();
    let (own, _) = rest.split_once("</decision>").unwrap();
    own.split("<rule>")
        .skip(1)
        .map(|rule| texts(rule, "<text>", "</text>"))
        .collect()
}

#[test]
fn rows_of_a_first_table_stand_in_order_behind_what_applies_shuts_out() {
    let xml = dmn(&pack());
    let practice = "S (common practice)";
    let row = |stones: &str, depth: &str, grade: &str, id: &str, written: &str, because: &str| {
        let words = ["-", stones, depth, grade, id, written, because, practice];
        words.map(str::to_owned).to_vec()
    };
    let mut expected = vec![
        [
            "\"crack\"",
            "-",
            "-",
            "\"none\"",
            "grading-applies-1",
            "not kind scaling",
            "The table does not apply.",
            "follows from the table",
        ]
        .map(str::to_owned)
        .to_vec(),
    ];
    let (severe, light, none) = ("\"severe\"", "\"light\"", "\"none\"");
    expected.extend([
        row(
            "\"missing\"",
            "-",
            severe,
            "g-stones",
            "stones missing",
            "Stones are out.",
        ),
        row(
            "-",
            "[10..20)",
            severe,
            "g-deep",
            "depth [10 mm..20 mm)",
            "Deep.",
        ),
        row(
            "-",
            "(2..3], 5",
            light,
            "g-odd",
            "depth (2 mm..3 mm], 5 mm",
            "Odd.",
        ),
        row(
            "-",
            "> 50",
            severe,
            "g-deepest",
            "depth > 50 mm",
            "Deepest.",
        ),
        row(
            "-",
            ">= 20",
            severe,
            "g-deeper",
            "depth >= 20 mm",
            "Deeper.",
        ),
        row("-", "< 1", none, "g-trace", "depth < 1 mm", "A trace."),
        row("-", "<= 1", light, "g-some", "depth <= 1 mm", "Some."),
        row("-", "-", light, "g-rest", "", "The rest."),
    ]);
    assert_eq!(rules(&xml, "grade"), expected);
}

#[test]
fn what_applies_asks_stands_in_every_row_where_nothing_is_said_outside() {
    let xml = dmn(&pack());
    let conditions = |decision: &str, n: usize| -> Vec<Vec<String>> {
        let rows = rules(&xml, decision).into_iter();
        rows.map(|row| row[..n].to_vec()).collect()
    };
    assert_eq!(
        conditions("urgent", 5),
        [
            [
                "\"crack\"",
                "-",
                "\"showing\", \"missing\"",
                "\"yes\"",
                "h-yes"
            ],
            ["\"crack\"", "-", "\"hidden\"", "\"no\"", "h-no"],
        ]
    );
    // A table that collects gives the names of its rows.
    assert_eq!(
        conditions("signs", 3),
        [["\"severe\"", "\"s-grade\"", "s-grade"]]
    );
}

#[test]
fn facts_tables_and_what_they_need_are_named() {
    let xml = dmn(&pack());
    for line in [
        // Every value of a choice, in order; a flag is no and yes.
        "<itemDefinition name=\"t_stones\" label=\"stones\" id=\"t_stones\">\n    \
         <typeRef>string</typeRef>\n    <allowedValues><text>&quot;hidden&quot;, &quot;showing&quot;, \
         &quot;missing&quot;</text></allowedValues>",
        "<allowedValues><text>&quot;no&quot;, &quot;yes&quot;</text></allowedValues>",
        "<inputData name=\"kind\" id=\"i_kind\" label=\"kind\">\n    <description>kind of a defect. \
         Is it &lt;scaling&gt; &amp; &quot;loss&quot;?</description>\n    <variable name=\"kind\" \
         typeRef=\"t_kind\"/>",
        "<inputData name=\"depth\" id=\"i_depth\" label=\"depth of loss\">\n    <description>depth of \
         loss of a defect, in mm. How deep?</description>\n    <variable name=\"depth\" \
         typeRef=\"number\"/>",
        // What a ranking makes comes in from outside.
        "<inputData name=\"cause\" id=\"i_cause\"",
        "<decision name=\"grade\" id=\"d_grading\" label=\"Grading\">\n    \
         <description>Grading.</description>\n    <question>How bad?</question>\n    \
         <variable name=\"grade\" typeRef=\"t_grade\"/>\n    \
         <informationRequirement><requiredInput href=\"#i_kind\"/></informationRequirement>",
        "<description>Haste. Scale: ours.</description>",
        "<requiredDecision href=\"#d_grading\"/>",
        "<decisionTable hitPolicy=\"FIRST\" outputLabel=\"Grading\">",
        "<decisionTable hitPolicy=\"UNIQUE\" outputLabel=\"Haste\">",
        "<decisionTable hitPolicy=\"RULE ORDER\" outputLabel=\"Signs\">",
        "<input label=\"depth of loss, mm\"><inputExpression typeRef=\"number\"><text>depth</text>",
        "<input label=\"stones\"><inputExpression typeRef=\"t_stones\"><text>stones</text>",
        "<output name=\"grade\" typeRef=\"t_grade\"/>",
        // Rows that fire are a list, which has no named type.
        "<variable name=\"signs\"/>",
        "<output name=\"signs\" typeRef=\"string\"/>",
    ] {
        assert!(xml.contains(line), "{line}\n{xml}");
    }
    // The facts of exported tables, each once; what a table makes is no input.
    assert_eq!(xml.matches("<itemDefinition").count(), 5);
    assert_eq!(xml.matches("<inputData").count(), 4);
    assert!(!xml.contains("i_grade") && !xml.contains("d_why"), "{xml}");
}

#[test]
fn the_unit_of_every_kind_is_the_one_numbers_are_kept_in() {
    for (kind, one, unit) in [
        (Kind::Length, "1 mm", "mm"),
        (Kind::Area, "1 m2", "m2"),
        (Kind::Volume, "1 L", "L"),
        (Kind::Mass, "1 kg", "kg"),
        (Kind::Temperature, "1 °C", "degrees Celsius"),
        (Kind::Pressure, "1 MPa", "MPa"),
        (Kind::Share, "100 %", "a fraction of one"),
        (Kind::Slope, "100 %", "rise over run"),
        (Kind::Duration, "1 day", "days"),
        (Kind::Speed, "1 km/h", "km/h"),
        (Kind::Coverage, "1 m2/L", "m2/L"),
        (Kind::SpreadRate, "1 kg/m2/h", "kg/m2/h"),
        (Kind::Number, "1", "a bare number"),
    ] {
        let read = kind.read(one).unwrap();
        assert_eq!((read.lo, read.hi), (1.0, 1.0), "{one}");
        assert_eq!(canonical_unit(kind), unit);
    }
}
