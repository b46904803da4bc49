//! Things of made-up records.

use ringtrue::facts::Scope;
use ringtrue::rules::Thing;

/// A thing without a name, inside another.
pub fn thing(scope: Scope, outer: Option<usize>) -> Thing {
    Thing {
        scope,
        label: String::new(),
        outer,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    }
}
