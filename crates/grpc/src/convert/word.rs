//! Enums: a snake-case word in JSON, a prefixed value with an unspecified zero in protobuf.

/// A domain enum with its counterpart on the wire.
pub trait Word: Sized {
    /// The value that a wire number stands for; `None` where it is unspecified or unknown.
    fn from_wire(wire: i32) -> Option<Self>;

    /// The names of all values, for a problem's text.
    fn accepted() -> String;
}

/// Pairs a domain enum with a generated one, variant by variant and in both directions.
///
/// Both matches are without a catch-all: a variant that is new on either side doesn't compile.
macro_rules! word {
    ($domain:ty, $wire:ty { $($variant:ident)+ }) => {
        impl From<$domain> for $wire {
            fn from(word: $domain) -> Self {
                match word {
                    $(<$domain>::$variant => Self::$variant,)+
                }
            }
        }

        impl $crate::convert::word::Word for $domain {
            fn from_wire(wire: i32) -> Option<Self> {
                match <$wire>::try_from(wire).ok()? {
                    <$wire>::Unspecified => None,
                    $(<$wire>::$variant => Some(Self::$variant),)+
                }
            }

            fn accepted() -> String {
                [$(<$wire>::$variant.as_str_name()),+].join(", ")
            }
        }
    };
}

pub(super) use word;
