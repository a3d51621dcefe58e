//! The product from outside: the real binary, real clients, and both contracts side by side.

#[path = "../../crates/records/tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests of the records use more of it")]
mod databases;
#[path = "../fuzz/src/lib.rs"]
mod fuzzed;

/// Runs each of a module's cases on both stores.
macro_rules! on_both {
    ($parent:ident: $($module:ident { $($case:ident),* $(,)? })*) => {
        mod sqlite {
            $(mod $module { $(
                #[tokio::test]
                async fn $case() {
                    crate::$parent::$module::$case(crate::databases::Database::sqlite()).await;
                }
            )* })*
        }
        mod postgres {
            $(mod $module { $(
                #[tokio::test]
                async fn $case() {
                    crate::$parent::$module::$case(crate::databases::Database::postgres().await).await;
                }
            )* })*
        }
    };
}

mod appending;
mod backing_up;
mod best_plan;
mod binary;
mod board;
mod clock_set_back;
mod command_line;
mod contracts;
mod crash;
mod deploying;
mod described;
mod feeds;
mod field_series;
mod grpc;
mod histories;
mod hold_out;
mod hostile;
mod http;
mod kinds;
mod layers;
mod least_squares;
mod malformed;
mod memory;
mod messages;
mod metrics;
mod mqtt;
mod outages;
mod overload;
mod pace;
mod planning;
mod plot;
mod posterior;
mod published;
mod python;
mod python_client;
mod readme;
mod records_grpc;
mod records_rest;
mod reference;
mod replicas;
mod routes;
mod scenarios;
mod seeds;
mod server;
mod shutdown;
mod spans;
mod starting_together;
mod stream;
mod tls;
mod trust;
mod watching;
mod webhooks;
mod wiping;
