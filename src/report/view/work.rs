//! The work, step by step, with its layers and stairs.

use super::build::Builder;
use super::phrases::{
    about_defect, alike, capital, join, plain_texts, sentence, stage_name, verdict_words, within,
};
use super::{
    AreaWork, Fact, OverlayView, ProfileView, StageView, StairCheckView, StairView, StepView,
    WorkView,
};
use crate::facts::Interval;
use crate::method::AreaMethod;
use crate::method::Overlay;
use crate::method::StairChange;
use crate::report::drawings::layers;
use crate::report::drawings::layers::Body;
use crate::report::drawings::layers::Bound;
use crate::report::drawings::layers::Layer;
use crate::report::drawings::stair;
use crate::report::drawings::stair::Flight;
use crate::units::Kind;

impl<'a> Builder<'a> {
    pub(super) fn work(&mut self) -> WorkView {
        let s = self.s;
        let mut areas = Vec::new();
        for (index, method) in s.method.areas.iter().enumerate() {
            let found = s.assessment.areas.iter().find(|a| a.id == method.area);
            let why_not = (!method.specified).then(|| {
                let text = method
                    .why_not
                    .clone()
                    .unwrap_or_else(|| "No work is specified here yet".to_owned());
                self.words.say(&sentence(&text))
            });
            let stages = self.stages(method);
            let overlay = method
                .overlay
                .as_ref()
                .map(|o| self.overlay(index, method, o));
            let profile = method.profile.as_ref().map(|p| ProfileView {
                range: if p.least == p.greatest {
                    format!("CSP {}", p.least)
                } else {
                    format!("CSP {} to {}", p.least, p.greatest)
                },
                scale: p.scale.clone(),
                ways: p.ways.iter().map(|w| self.words.say(w)).collect(),
                why: plain_texts(&p.reasons, 2)
                    .iter()
                    .map(|t| self.words.say(t))
                    .collect(),
            });
            let waits = method
                .waits
                .iter()
                .map(|w| Fact {
                    name: capital(&w.what),
                    value: Kind::Duration.write(w.days, self.system),
                })
                .collect();
            let name = found.map_or_else(|| method.area.clone(), |f| f.name.clone());
            areas.push(AreaWork {
                id: crate::report::names::area_tag(&method.area, &name),
                name: capital(&name),
                verdict: found.map_or_else(
                    || method.verdict.replace('_', " "),
                    |f| verdict_words(&f.verdict),
                ),
                firm: found.is_some_and(|f| f.verdict.firm),
                why_not,
                stages,
                overlay,
                profile,
                waits,
            });
        }
        let stairs = s
            .method
            .stairs
            .iter()
            .enumerate()
            .map(|(i, stair)| self.stair(i, stair))
            .collect();
        WorkView {
            areas,
            stairs,
            words: self.words.take_fresh(),
        }
    }

    /// Steps that follow each other in one part of the work, together. What is done alike at
    /// several defects is said once, with their numbers; the same sentence never stands twice.
    pub(super) fn stages(&mut self, method: &AreaMethod) -> Vec<StageView> {
        struct Said {
            numbers: Vec<String>,
            text: String,
            why: Option<String>,
            safety: bool,
        }
        let mut stages: Vec<(String, Vec<Said>)> = Vec::new();
        for step in &method.steps {
            let (number, text) = about_defect(&step.owner);
            let text = sentence(text);
            let name = stage_name(&step.stage);
            if stages.last().is_none_or(|(last, _)| *last != name) {
                stages.push((name, Vec::new()));
            }
            let Some((_, said)) = stages.last_mut() else {
                continue;
            };
            let why = step
                .reason
                .plain
                .as_deref()
                .map(sentence)
                .filter(|p| *p != text);
            match said.iter_mut().find(|s| alike(&s.text, &text)) {
                Some(same) => {
                    same.safety |= step.reason.safety;
                    if text.len() > same.text.len() {
                        same.text = text;
                    }
                    if let Some(number) = number.filter(|n| !same.numbers.contains(n)) {
                        same.numbers.push(number);
                    }
                }
                None => said.push(Said {
                    numbers: number.into_iter().collect(),
                    text,
                    why,
                    safety: step.reason.safety,
                }),
            }
        }
        stages
            .into_iter()
            .map(|(name, said)| StageView {
                name,
                steps: said
                    .into_iter()
                    .scan(String::new(), |before, s| {
                        let at = match s.numbers.len() {
                            0 => String::new(),
                            1 => format!("Defect {}: ", join(&s.numbers, "and")),
                            _ => format!("Defects {}: ", join(&s.numbers, "and")),
                        };
                        // In a row of sentences on one defect its number stands once.
                        let text = if *before == at {
                            s.text
                        } else {
                            format!("{at}{}", s.text)
                        };
                        *before = at;
                        Some(StepView {
                            text: self.words.say(&text),
                            why: s.why.map(|p| self.words.say(&p)),
                            safety: s.safety,
                        })
                    })
                    .collect(),
            })
            .collect()
    }

    pub(super) fn overlay(
        &mut self,
        index: usize,
        method: &AreaMethod,
        overlay: &Overlay,
    ) -> OverlayView {
        let mm = |v: f64| Kind::Length.write(Interval::exact(v), self.system);
        let (floor, ceiling, chosen) = (
            mm(overlay.floor_mm),
            mm(overlay.ceiling_mm),
            mm(overlay.thickness_mm),
        );
        let fits = overlay.floor_mm <= overlay.ceiling_mm;
        let endless = !overlay.ceiling_mm.is_finite();
        let text = if endless {
            format!(
                "It needs at least {floor}; nothing here limits it from above. We place {chosen}."
            )
        } else if fits {
            format!("It needs at least {floor} and may have at most {ceiling}. We place {chosen}.")
        } else {
            format!("It would need at least {floor}, but there is only room for {ceiling}.")
        };
        let bounds: Vec<Bound> = overlay
            .floor_parts
            .iter()
            .map(|p| (p, true))
            .chain(overlay.ceiling_parts.iter().map(|p| (p, false)))
            .map(|(p, at_least)| Bound {
                what: capital(&p.what),
                mm: p.thickness_mm,
                figure: mm(p.thickness_mm),
                at_least,
            })
            .collect();
        let room = layers::room(
            &bounds,
            (overlay.floor_mm, overlay.ceiling_mm),
            fits.then_some((overlay.thickness_mm, chosen.as_str())),
            &format!("room-{index}"),
            &format!("Room for the new layer, area {}", method.area),
            self.s.sentences,
        );
        let has = |stage: &str| method.steps.iter().any(|step| step.stage == stage);
        let mut stack = Vec::new();
        let layer = |name: &str, figure: String, body: Body| Layer {
            name: name.to_owned(),
            figure,
            body,
        };
        if has("seal") {
            stack.push(layer(
                "Sealer",
                "a thin film or a soak".to_owned(),
                Body::Film,
            ));
        }
        stack.push(layer(&capital(&overlay.name), chosen.clone(), Body::New));
        if has("bond") {
            stack.push(layer("Bonding coat", "brushed in".to_owned(), Body::Bond));
        }
        let thick = self.measure(self.s.record.slab.thickness.as_ref());
        let profile = method.profile.as_ref().map(|p| {
            if p.least == p.greatest {
                format!("roughened to CSP {}", p.least)
            } else {
                format!("roughened to CSP {} to {}", p.least, p.greatest)
            }
        });
        let slab: Vec<String> = [
            Some(thick.unwrap_or_else(|| "thickness not recorded".to_owned())),
            profile,
        ]
        .into_iter()
        .flatten()
        .collect();
        stack.push(layer(
            "Your slab, cleaned back to sound concrete",
            slab.join(", "),
            Body::Slab,
        ));
        stack.push(layer("Ground", String::new(), Body::Ground));
        let section = layers::section(
            &stack,
            &format!("layers-{index}"),
            &format!("Section through the layers, area {}", method.area),
            self.s.sentences,
        );
        let limits = |parts: &[crate::method::Limit]| {
            parts
                .iter()
                .map(|p| Fact {
                    name: capital(&p.what),
                    value: mm(p.thickness_mm),
                })
                .collect::<Vec<_>>()
        };
        let (asks, forbids) = (limits(&overlay.floor_parts), limits(&overlay.ceiling_parts));
        OverlayView {
            name: capital(&overlay.name),
            why: plain_texts(&overlay.reasons, 3)
                .iter()
                .map(|t| self.words.say(t))
                .collect(),
            sentence: self.words.say(&text),
            floor,
            ceiling: if endless {
                "no limit found".to_owned()
            } else {
                ceiling
            },
            chosen,
            asks,
            forbids,
            room,
            section,
        }
    }

    pub(super) fn stair(&mut self, index: usize, stair: &StairChange) -> StairView {
        let mm = |v: f64| Kind::Length.write(Interval::exact(v), self.system);
        let flight = |risers: &[f64], broken: &[f64]| Flight {
            risers: risers.to_vec(),
            figures: risers.iter().map(|r| mm(*r)).collect(),
            kept: within(risers, broken),
        };
        let broken = |after: bool| -> Vec<f64> {
            stair
                .checks
                .iter()
                .filter(|c| if after { !c.kept_after } else { !c.kept_before })
                .map(|c| if after { c.after_mm } else { c.before_mm })
                .collect()
        };
        let recorded = self.s.record.stairs.iter().find(|s| s.id == stair.stair);
        let treads: Vec<f64> = recorded
            .map(|s| {
                s.treads
                    .iter()
                    .filter_map(crate::report::drawings::ground::middle)
                    .collect()
            })
            .unwrap_or_default();
        let drawing = stair::elevation(
            &flight(&stair.before_mm, &broken(false)),
            &flight(&stair.after_mm, &broken(true)),
            &treads,
            &format!("stair-{index}"),
            &format!(
                "{}, before and after the work",
                crate::report::names::steps(&stair.stair)
            ),
            self.s.sentences,
        );
        let checks = stair
            .checks
            .iter()
            .map(|c| StairCheckView {
                limit: capital(&c.limit),
                value: mm(c.limit_mm),
                before: mm(c.before_mm),
                after: mm(c.after_mm),
                kept_before: c.kept_before,
                kept_after: c.kept_after,
                source: c.source.clone(),
            })
            .collect();
        StairView {
            name: crate::report::names::steps(&stair.stair),
            drawing,
            checks,
            kept: stair.checks.iter().all(|c| c.kept_after),
        }
    }
}
