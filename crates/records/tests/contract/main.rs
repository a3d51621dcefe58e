//! What the records promise, held to on both databases.

#[path = "../databases/mod.rs"]
#[allow(dead_code, unused_imports, reason = "the end-to-end tests use more of it")]
mod databases;

mod appending;
mod backup;
mod batches;
mod bays;
mod changes;
mod deliveries;
mod disturbances;
mod earlier;
mod export;
mod farms;
mod feeds;
mod history;
mod idempotency;
mod isolation;
mod keys;
mod merges;
mod migration;
mod orchard;
mod outbox;
mod pages;
mod publishing;
mod rehearsing;
mod replicas;
mod schema;
mod seasons;
mod sequences;
mod stands;
mod tidings;
mod webhooks;

/// Runs each of a module's cases on both databases.
macro_rules! on_both {
    ($($module:ident { $($case:ident),* $(,)? })*) => {
        mod sqlite {
            $(mod $module { $(
                #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
                async fn $case() {
                    crate::$module::$case(crate::databases::Database::sqlite()).await;
                }
            )* })*
        }
        mod postgres {
            $(mod $module { $(
                #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
                async fn $case() {
                    crate::$module::$case(crate::databases::Database::postgres().await).await;
                }
            )* })*
        }
    };
}

on_both! {
    appending {
        an_event_is_kept_with_who_and_when,
        own_ids_make_adding_again_harmless,
        an_upsert_corrects_what_is_there,
        corrections_and_retractions_supersede_once,
        all_or_nothing_keeps_nothing,
        keep_good_keeps_the_others,
        what_is_no_event_is_refused,
        archived_batches_take_no_more,
        own_ids_are_found_by_their_beginning,
    }
    backup { a_copy_made_while_writing_is_whole }
    batches { kept_changed_and_put_away }
    bays { kept_in_the_farms_own_order }
    changes { told_after_they_were_committed }
    deliveries {
        one_at_a_time_of_a_webhook_the_longest_due_first,
        a_lease_that_is_over_is_anothers_and_the_late_change_nothing,
        replicas_claim_each_once,
        the_dead_are_seen_and_replayed,
        a_webhook_that_is_gone_or_disabled_gets_nothing,
        the_secret_before_signs_on_for_a_while,
        the_old_are_forgotten,
        a_clock_that_was_set_back_holds_up_none,
    }
    earlier { emptied_or_put_away_by_the_day, of_the_bay_that_began_before }
    export {
        out_and_in_again_is_the_same,
        what_is_cut_short_or_foreign_is_refused,
        what_was_taken_out_before_there_were_seasons_is_taken,
    }
    farms { kept_changed_and_put_away }
    feeds { shown_once_and_stored_hashed, revoked_is_unknown, of_one_farm_alone }
    history { holds_what_the_model_needs, version_changes_with_everything_it_is_made_of }
    idempotency { the_same_key_gets_the_same_answer, another_body_is_refused, a_day_later_the_key_is_free }
    isolation { another_farms_things_are_not_there }
    keys { shown_once_and_stored_hashed, revoked_is_unknown }
    merges { sources_come_with_the_history, no_circle_and_no_deeper_than_a_history }
    migration { many_start_at_once, what_is_newer_or_changed_is_refused }
    outbox {
        a_change_has_its_notice_and_a_claim_holds_it_until_it_lapses,
        many_claim_without_waiting_for_each_other,
        what_hangs_on_a_batch_is_due_with_it,
        a_sweep_finds_what_no_notice_was_written_of,
        a_claim_from_before_the_clock_was_set_back_has_lapsed,
    }
    publishing {
        what_was_worked_out_from_an_older_state_is_refused,
        sequences_have_no_gap_under_publishers_of_two_replicas,
        what_is_told_is_read_back_with_what_is_due,
        old_changes_are_forgotten_from_the_beginning,
    }
    pages { every_item_once_while_others_are_added, tokens_of_other_lists_are_refused }
    rehearsing { a_rehearsal_answers_as_the_append_does_and_writes_nothing }
    disturbances { a_moments_disturbance_heals, who_gives_up_leaves_nothing_behind }
    replicas { many_writers_lose_and_double_nothing, one_key_on_two_replicas_records_once, merges_on_two_replicas_close_no_circle }
    schema { every_table_and_column_is_described }
    seasons { kept_changed_and_deleted_with_their_plan, another_record_tells_itself }
    sequences { any_sequence_reads_back_like_a_plain_list }
    stands {
        told_by_what_places_and_ends_batches,
        a_probe_is_in_the_batch_that_came_last,
        a_yard_is_what_stands_at_the_end_of_a_day,
    }
    tidings { they_are_put_in_by_what_publishes_them }
    webhooks { kept_changed_disabled_and_deleted, another_farms_are_not_there, a_farm_has_so_many_and_no_more }
}
