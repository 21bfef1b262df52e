//! What kilns were called before.

use super::same_name;

/// Earlier names of kilns, each with the name its kiln has now: an earlier name still finds its kiln.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Names(Vec<(String, String)>);

impl Names {
    /// The kiln of one name is called by another.
    pub fn rename(&mut self, was: &str, becomes: &str) {
        let was = self.now(was).to_owned();
        for (_, now) in self.0.iter_mut().filter(|(_, now)| same_name(now, &was)) {
            becomes.clone_into(now);
        }
        self.0.retain(|(earlier, _)| !same_name(earlier, becomes));
        self.0.push((was, becomes.to_owned()));
    }

    /// What the kiln of this name is called now.
    pub fn now<'n>(&'n self, name: &'n str) -> &'n str {
        let renamed = self.0.iter().find(|(earlier, _)| same_name(earlier, name));
        renamed.map_or(name, |(_, now)| now)
    }
}
