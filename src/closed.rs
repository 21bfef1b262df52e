//! Closed lists of words: enums of which every case has one name, the same wherever it is read or
//! written.

/// One word of a closed list.
pub trait Word: Copy + Eq + 'static {
    /// Every word, in the order in which they are listed to people.
    const ALL: &'static [Self];

    /// Their words, in the same order.
    const NAMES: &'static [&'static str];

    /// The word in records, commands and files.
    fn name(self) -> &'static str;

    /// The case of this name.
    fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|word| word.name() == name)
    }
}

/// An enum and its words: `ALL`, `name`, [`Word`], and `Display` with blanks for underscores.
macro_rules! closed {
    ($(#[$of_all:meta])* $vis:vis enum $list:ident {
        $($(#[$of_one:meta])* $case:ident $(= $number:literal)? => $word:literal,)+
    }) => {
        $(#[$of_all])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        $vis enum $list {
            $($(#[$of_one])* $case $(= $number)?,)+
        }

        impl $list {
            /// Every case, in the order in which they are listed to people.
            pub const ALL: [$list; [$($word),+].len()] = [$($list::$case),+];

            /// The word in records, commands and files.
            pub fn name(self) -> &'static str {
                match self {
                    $($list::$case => $word,)+
                }
            }
        }

        impl $crate::closed::Word for $list {
            const ALL: &'static [Self] = &$list::ALL;
            const NAMES: &'static [&'static str] = &[$($word),+];

            fn name(self) -> &'static str {
                $list::name(self)
            }
        }

        impl std::fmt::Display for $list {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(&self.name().replace('_', " "))
            }
        }
    };
}
