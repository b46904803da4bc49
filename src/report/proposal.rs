//! The proposal: what we offer to do, what it may cost, what is not in it, and the page to sign.
//!
//! It promises nothing that the assessment does not carry: an open verdict gives a proposal to
//! measure, not to build.

use serde::Serialize;

use super::PlanView;
use super::owner_plan::PlanPart;
use super::phrases::Phrases;
use super::plan_view::{self, Section};
use super::view::{
    Advice, AreaWork, AssumedView, Fact, JobView, QuestionView, Sources, View, sentence,
};
use super::words::{Meaning, Rich, Words};
use crate::units::{Kind, System};

/// What kind of offer it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Offer {
    /// To do the specified work.
    Work,
    /// To measure first.
    Measure,
    /// To have it looked at by an engineer or laboratory.
    Refer,
    /// To leave it alone.
    Nothing,
}

/// A proposal ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct Proposal {
    /// Title of the paper.
    pub title: String,
    /// Who, where, when.
    pub job: JobView,
    /// The slab's verdict.
    pub verdict: String,
    /// Whether it is firm.
    pub firm: bool,
    /// What kind of offer it is.
    pub offer: Offer,
    /// Why, in plain sentences.
    pub lead: Vec<Rich>,
    /// The options side by side, from the plan.
    pub options: Option<Section>,
    /// Work in this proposal, area by area.
    pub scope: Vec<AreaWork>,
    /// What is done in the meantime, where an engineer or a measurement comes first.
    pub until: Vec<AreaWork>,
    /// Areas without work, with the reason.
    pub untouched: Vec<Untouched>,
    /// What to measure first.
    pub measure: Vec<QuestionView>,
    /// What an engineer or laboratory must look at.
    pub referrals: Vec<Advice>,
    /// What is not in the price.
    pub excluded: Vec<String>,
    /// Work that may turn up, with room for a unit price.
    pub allowances: Vec<Allowance>,
    /// What was taken for granted.
    pub assumed: Vec<AssumedView>,
    /// What we will not do.
    pub will_not: Vec<Advice>,
    /// The days, from the plan.
    pub days: Option<Section>,
    /// Waits.
    pub waits: Vec<Fact>,
    /// Share to pay at signing, as printed.
    pub deposit: Option<String>,
    /// Care that the warranty depends on.
    pub care: Vec<Advice>,
    /// Trade words used, with their meanings.
    pub glossary: Vec<Meaning>,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each.
    pub house_rules: Vec<String>,
}

/// An area without work.
#[derive(Debug, Clone, Serialize)]
pub struct Untouched {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict.
    pub verdict: String,
    /// Why.
    pub why: Option<Rich>,
}

/// Work that may turn up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Allowance {
    /// What.
    pub what: String,
    /// Unit of its price.
    pub unit: String,
}

impl Proposal {
    /// Puts a proposal together from the owner's view, its sources and the plan, where there is
    /// one.
    pub fn build(
        view: &View,
        sources: &Sources<'_>,
        plan: Option<&PlanView>,
        phrases: &Phrases,
    ) -> Proposal {
        let (steps, rest): (Vec<&AreaWork>, Vec<&AreaWork>) =
            view.work.areas.iter().partition(|a| !a.stages.is_empty());
        // What has a reason against it has no work specified, but may have something to do till then.
        let (scope, until): (Vec<&AreaWork>, Vec<&AreaWork>) =
            steps.into_iter().partition(|a| a.why_not.is_none());
        let word = sources.assessment.slab.verdict.word.as_str();
        let offer = if !scope.is_empty() {
            Offer::Work
        } else if word == "refer_engineer" {
            Offer::Refer
        } else if !view.verdict.firm {
            Offer::Measure
        } else {
            Offer::Nothing
        };
        let section = |anchor: &str| {
            plan.and_then(|p| p.sections.iter().find(|s| s.anchor == anchor))
                .cloned()
        };
        let scope: Vec<AreaWork> = scope.into_iter().cloned().collect();
        let waits = scope.iter().flat_map(|a| a.waits.clone()).fold(
            Vec::new(),
            |mut all: Vec<Fact>, wait| {
                if !all.contains(&wait) {
                    all.push(wait);
                }
                all
            },
        );
        let mut proposal = Proposal {
            title: phrases.say("proposal_title", &[]),
            job: view.job.clone(),
            verdict: view.verdict.headline.clone(),
            firm: view.verdict.firm,
            offer,
            lead: view.verdict.paragraph.clone(),
            // The sums and their lines, in the owner's words; what moves the choice is for the report.
            options: section("plan-money").map(|mut s| {
                s.tables.truncate(2);
                s.second = None;
                if let Some(part) = &view.plan {
                    s.lead = part.money.iter().map(text_of).collect();
                    if !s.tables.iter().all(|t| t.rows.is_empty()) {
                        s.lead.push(phrases.say("money_eight", &[]));
                    }
                }
                s
            }),
            allowances: allowances(sources, offer, phrases),
            excluded: excluded(sources, offer, phrases),
            untouched: rest
                .into_iter()
                .map(|a| Untouched {
                    id: a.id.clone(),
                    name: a.name.clone(),
                    verdict: a.verdict.clone(),
                    why: a.why_not.clone(),
                })
                .collect(),
            scope,
            until: until.into_iter().cloned().collect(),
            measure: if view.verdict.firm && offer == Offer::Work {
                Vec::new()
            } else {
                view.uncertain.questions.clone()
            },
            referrals: view.against.referrals.clone(),
            assumed: view.assumed.clone(),
            will_not: view.against.exclusions.clone(),
            days: section("plan-days").map(|s| for_owner(s, view.plan.as_ref())),
            waits,
            deposit: sources
                .record
                .prices
                .as_ref()
                .and_then(|p| p.deposit.as_ref()?.canonical())
                .map(|share| {
                    if share.hi > 0.0 {
                        Kind::Share.write(share, sources.record.job.units)
                    } else {
                        phrases.say("payment_none", &[])
                    }
                }),
            care: view.care.clone(),
            glossary: Vec::new(),
            version: view.version.clone(),
            rules: view.rules.clone(),
            house_rules: view.house_rules.clone(),
        };
        proposal.explain(sources);
        proposal
    }

    /// Marks first uses of trade words anew: this paper is read without the report.
    fn explain(&mut self, sources: &Sources<'_>) {
        let mut words = Words::new(&sources.vocabulary.glossary);
        let mut again = |rich: &mut Rich| {
            let text: String = rich.iter().map(|s| s.text.as_str()).collect();
            *rich = words.mark(&text);
        };
        self.lead.iter_mut().for_each(&mut again);
        for area in self.scope.iter_mut().chain(&mut self.until) {
            for step in area.stages.iter_mut().flat_map(|s| &mut s.steps) {
                again(&mut step.text);
                if let Some(why) = &mut step.why {
                    again(why);
                }
            }
            if let Some(overlay) = &mut area.overlay {
                again(&mut overlay.sentence);
            }
        }
        for area in &mut self.untouched {
            if let Some(why) = &mut area.why {
                again(why);
            }
        }
        for q in &mut self.measure {
            again(&mut q.ask);
            again(&mut q.measure);
        }
        for advice in self
            .referrals
            .iter_mut()
            .chain(&mut self.will_not)
            .chain(&mut self.care)
        {
            again(&mut advice.text);
        }
        if self.offer == Offer::Work {
            for a in &mut self.assumed {
                again(&mut a.because);
            }
        }
        self.glossary = words.used();
    }
}

/// The programme as the owner needs it: in his words and with his drawing where there are any, else
/// what, from, to. Slack and the chain that sets the length are the contractor's.
fn for_owner(mut days: Section, part: Option<&PlanPart>) -> Section {
    if let Some(part) = part.filter(|p| p.programme.is_some()) {
        days.lead = part.days.iter().map(text_of).collect();
        days.picture.clone_from(&part.programme);
        days.tables.clear();
        return days;
    }
    days.lead.retain(|l| !l.starts_with(plan_view::HANGS_ON));
    for table in &mut days.tables {
        table.head.truncate(3);
        for row in &mut table.rows {
            row.truncate(3);
        }
    }
    days
}

/// A marked sentence without its marks.
fn text_of(rich: &Rich) -> String {
    rich.iter().map(|s| s.text.as_str()).collect()
}

fn has_stage(sources: &Sources<'_>, stages: &[&str]) -> bool {
    sources
        .method
        .areas
        .iter()
        .flat_map(|a| &a.steps)
        .any(|s| stages.contains(&s.stage.as_str()))
}

fn allowances(sources: &Sources<'_>, offer: Offer, phrases: &Phrases) -> Vec<Allowance> {
    if offer != Offer::Work {
        return Vec::new();
    }
    let us = sources.record.job.units == System::Us;
    let unit =
        |us_key: &str, metric_key: &str| phrases.say(if us { us_key } else { metric_key }, &[]);
    let surface = unit("per_ft2", "per_m2");
    let run = unit("per_ft", "per_m");
    let mut out = Vec::new();
    let mut add = |key: &str, unit: &str| {
        out.push(Allowance {
            what: phrases.say(key, &[]),
            unit: unit.to_owned(),
        });
    };
    if has_stage(sources, &["remove", "patch", "overlay"]) {
        add("allow_hollow", &surface);
    }
    if has_stage(sources, &["patch"]) {
        add("allow_deep", &phrases.say("per_bag", &[]));
    }
    if has_stage(sources, &["cracks", "overlay", "seal"]) {
        add("allow_cracks", &run);
    }
    if has_stage(sources, &["profile", "overlay"]) {
        add("allow_coat", &surface);
    }
    if has_stage(sources, &["replace"]) {
        add("allow_ground", &unit("per_yd3", "per_m3"));
    }
    add("allow_hour", &phrases.say("per_hour", &[]));
    out
}

fn excluded(sources: &Sources<'_>, offer: Offer, phrases: &Phrases) -> Vec<String> {
    let say = |key: &str| phrases.say(key, &[]);
    let mut out = Vec::new();
    if offer == Offer::Work {
        out.push(say("excluded_fees"));
        if !has_stage(sources, &["replace"]) {
            out.push(say("excluded_ground"));
        }
        out.push(say("excluded_hidden"));
        if !sources.record.stairs.is_empty() || !sources.record.thresholds.is_empty() {
            out.push(say("excluded_steps"));
        }
        if has_stage(sources, &["overlay", "patch"]) {
            out.push(say("excluded_colour"));
        }
        out.push(say("excluded_moving"));
    }
    // Where nothing has a price, this is only the list of what was not looked at.
    let priced = matches!(offer, Offer::Work | Offer::Measure);
    if priced && !sources.assessment.referrals.is_empty() {
        out.push(say("excluded_engineer"));
    }
    for what in &sources.record.not_inspected {
        out.push(if priced {
            phrases.say("excluded_unseen", &[("what", what.trim())])
        } else {
            sentence(what)
        });
    }
    out
}
