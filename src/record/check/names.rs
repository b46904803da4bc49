//! Names: required text, ids that stand twice, references to what does not exist.

use std::collections::BTreeMap;

use super::Check;
use crate::record::geometry::{panel_at, panel_name};
use crate::record::model::AreaRecord;
use crate::record::shape::one_of_hint;

/// Longest id, in characters; it has to fit on the map.
const LONGEST_ID: usize = 32;

impl Check<'_> {
    pub(super) fn names(&mut self) {
        let record = self.record;
        for (key, text) in [
            ("job.client", &record.job.client),
            ("job.address", &record.job.address),
            ("job.inspector", &record.job.inspector),
        ] {
            self.filled(key, text);
        }
        let mut areas = BTreeMap::new();
        let mut defects: BTreeMap<u32, String> = BTreeMap::new();
        for (a, area) in record.areas.iter().enumerate() {
            let path = format!("areas.{a}");
            self.id(&format!("{path}.id"), "area", &area.id, &mut areas);
            self.filled(&format!("{path}.name"), &area.name);
            let mut joints = BTreeMap::new();
            for (j, joint) in area.joints.iter().enumerate() {
                self.id(
                    &format!("{path}.joints.{j}.id"),
                    "joint",
                    &joint.id,
                    &mut joints,
                );
            }
            for (d, defect) in area.defects.iter().enumerate() {
                let id_path = format!("{path}.defects.{d}.id");
                if self.is_broken(&id_path) {
                    continue;
                }
                if defect.id == 0 {
                    self.error(
                        "id",
                        &id_path,
                        "defects are numbered from 1",
                        "give it the next free number",
                    );
                } else if let Some(first) = defects.get(&defect.id) {
                    let line = self.line(first);
                    let next = (1..).find(|n| {
                        !record
                            .areas
                            .iter()
                            .flat_map(|a| &a.defects)
                            .any(|d| d.id == *n)
                    });
                    self.error(
                        "repeated-id",
                        &id_path,
                        format!("defect {} stands on line {line} already", defect.id),
                        format!(
                            "defects are numbered through the whole record; {} is free",
                            next.map_or_else(String::new, |n: u32| n.to_string())
                        ),
                    );
                } else {
                    defects.insert(defect.id, id_path);
                }
                self.panel_names(area, &format!("{path}.defects.{d}.panels"), &defect.panels);
            }
            if let Some(panels) = &area.panels {
                for name in panels.signs.keys() {
                    self.panel_name(area, &format!("{path}.panels.signs"), name, None);
                }
            }
        }
        let (mut stairs, mut doors) = (BTreeMap::new(), BTreeMap::new());
        for (s, stair) in record.stairs.iter().enumerate() {
            self.id(&format!("stairs.{s}.id"), "stair", &stair.id, &mut stairs);
            for (key, area) in [("from", &stair.from), ("to", &stair.to)] {
                if let Some(area) = area {
                    self.area_exists(&format!("stairs.{s}.{key}"), area);
                }
            }
            if stair.from.is_none()
                && stair.to.is_none()
                && !self.is_broken(&format!("stairs.{s}.from"))
            {
                self.warning(
                    "loose-stair",
                    &format!("stairs.{s}.id"),
                    format!(
                        "the stair `{}` neither starts nor ends on an area",
                        stair.id
                    ),
                    "write `from:` or `to:` with the id of the area it stands on or comes up to",
                );
            }
        }
        for (t, door) in record.thresholds.iter().enumerate() {
            self.id(
                &format!("thresholds.{t}.id"),
                "threshold",
                &door.id,
                &mut doors,
            );
            self.area_exists(&format!("thresholds.{t}.area"), &door.area);
        }
        for (e, edge) in record.edges.iter().enumerate() {
            self.area_exists(&format!("edges.{e}.area"), &edge.area);
        }
        for (m, material) in record.materials.iter().enumerate() {
            self.filled(&format!("materials.{m}.name"), &material.name);
        }
    }

    /// Required text that is there, but empty.
    fn filled(&mut self, path: &str, text: &str) {
        if text.trim().is_empty() {
            self.error(
                "empty-text",
                path,
                "nothing is written here, and the report needs it",
                "write it out",
            );
        }
    }

    /// An id of the right form that no other has.
    fn id(&mut self, path: &str, what: &str, id: &str, seen: &mut BTreeMap<String, String>) {
        if self.is_broken(path) {
            return;
        }
        let form = id
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
        if id.is_empty() || !form || id.chars().count() > LONGEST_ID {
            self.error(
                "id",
                path,
                format!("an id is a short name of letters, digits, `-` and `_`, at most {LONGEST_ID} of them"),
                suggestion(id, what),
            );
        }
        if let Some(first) = seen.get(id) {
            let line = self.line(first);
            self.error(
                "repeated-id",
                path,
                format!("the {what} `{id}` stands on line {line} already"),
                format!("give each {what} an id of its own"),
            );
        } else {
            seen.insert(id.to_owned(), path.to_owned());
        }
    }

    fn area_exists(&mut self, path: &str, id: &str) {
        let areas = &self.record.areas;
        if areas.iter().any(|a| a.id == id) {
            return;
        }
        // An area whose own id could not be read may be the one that is meant.
        if (0..areas.len()).any(|a| self.is_broken(&format!("areas.{a}.id"))) {
            return;
        }
        let hint = one_of_hint(id, areas.iter().map(|a| a.id.as_str()));
        self.error(
            "unknown-area",
            path,
            format!("there is no area `{id}`"),
            hint,
        );
    }

    fn panel_names(&mut self, area: &AreaRecord, path: &str, names: &[String]) {
        for (p, name) in names.iter().enumerate() {
            let own = format!("{path}.{p}");
            if !self.is_broken(&own) {
                self.panel_name(area, path, name, Some(&own));
            }
        }
    }

    /// A panel that the area's grid has. `own` is the path of the name when it is a value.
    fn panel_name(&mut self, area: &AreaRecord, path: &str, name: &str, own: Option<&str>) {
        let place = match own {
            Some(own) => self.place(own),
            None => self.key_place(path, name),
        };
        let (message, hint) = match &area.panels {
            None => (
                format!(
                    "there is no panel `{name}`: the area `{}` has no panels",
                    area.id
                ),
                "write the widths of its columns and the heights of its rows under `panels:`"
                    .to_owned(),
            ),
            Some(grid) => {
                let (columns, rows) = (grid.columns.len(), grid.rows.len());
                match panel_at(name) {
                    Some((c, r)) if c < columns && r < rows => return,
                    _ if columns == 0 || rows == 0 => return, // said where the grid is checked
                    _ => (
                        format!("there is no panel `{name}` in the area `{}`", area.id),
                        format!(
                            "its panels run from `{}` at the lower left to `{}` at the upper right",
                            panel_name(0, 0),
                            panel_name(columns - 1, rows - 1)
                        ),
                    ),
                }
            }
        };
        self.problems.push(
            crate::source::Problem::error("unknown-panel", message)
                .at(self.file, place)
                .hint(hint),
        );
    }
}

/// An id near to what was written.
fn suggestion(id: &str, what: &str) -> String {
    let mut near: String = id
        .trim()
        .to_lowercase()
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || c == '_' {
                c
            } else {
                '-'
            }
        })
        .take(LONGEST_ID)
        .collect();
    while near.contains("--") {
        near = near.replace("--", "-");
    }
    let near = near.trim_matches('-');
    if near.is_empty() {
        format!("for example `{what}-1`")
    } else {
        format!("for example `{near}`")
    }
}
