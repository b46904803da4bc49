//! How areas, steps and doors are called on a page. Their short names in the record are often
//! words of the full name (`upper`, `front-door`); those are not said twice.

use super::view::capital;

/// The short name to print before an area's full name; empty where the full name says it.
pub fn area_tag(id: &str, name: &str) -> String {
    let said = spoken(id);
    let inside = format!(" {} ", spoken(name)).contains(&format!(" {said} "));
    // A single letter is a letter on the map, whatever else the name holds.
    if inside && id.chars().count() > 1 {
        String::new()
    } else {
        id.to_owned()
    }
}

/// Short and full name together.
pub fn area(id: &str, name: &str) -> String {
    let tag = area_tag(id, name);
    if tag.is_empty() {
        capital(name)
    } else {
        format!("{tag} {}", capital(name))
    }
}

/// A flight of steps.
pub fn steps(id: &str) -> String {
    thing("Steps", &["step", "steps", "stair", "stairs", "flight"], id)
}

/// A door.
pub fn door(id: &str) -> String {
    thing("Door", &["door", "doors", "gate", "opening"], id)
}

fn thing(kind: &str, words: &[&str], id: &str) -> String {
    let said = id.replace(['-', '_'], " ");
    let names_itself = said
        .split_whitespace()
        .any(|w| words.contains(&w.to_lowercase().as_str()));
    if names_itself {
        capital(&said)
    } else {
        format!("{kind} {id}")
    }
}

fn spoken(text: &str) -> String {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_said_twice() {
        assert_eq!(area("upper", "upper terrace"), "Upper terrace");
        assert_eq!(area("A", "A patio"), "A A patio");
        assert_eq!(area("A", "upper patio"), "A Upper patio");
        assert_eq!(area("up", "upper terrace"), "up Upper terrace");
        assert_eq!(steps("terrace-steps"), "Terrace steps");
        assert_eq!(steps("S1"), "Steps S1");
        assert_eq!(door("french-doors"), "French doors");
        assert_eq!(door("kitchen"), "Door kitchen");
    }
}
