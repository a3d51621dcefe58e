//! Records over REST, from the real binary on both stores.

mod appending;
mod bringing_in;
mod estimates;
mod isolation;
mod keys;
mod resources;
pub mod yard;

on_both! { records_rest:
    appending {
        an_event_is_corrected_and_retracted_and_all_is_kept,
        a_repeated_request_is_recorded_once,
        of_a_mixed_lot_nothing_is_kept_or_the_good_as_asked,
        the_callers_own_ids_make_an_append_repeatable,
    }
    bringing_in {
        the_same_sheet_twice_adds_nothing_and_a_corrected_row_replaces,
        all_or_nothing_is_the_rule_and_the_good_are_kept_on_demand,
        bulk_goes_to_any_number_of_batches,
        many_thousand_lines_are_kept_some_at_a_time,
        an_idempotency_key_makes_events_without_ids_safe_to_send_again,
        a_bay_stands_for_the_batch_that_stood_in_it,
        what_cannot_be_read_at_all_is_a_problem,
        another_farms_things_are_named_nowhere,
    }
    estimates {
        a_stored_batch_is_estimated_like_its_history,
        the_tag_changes_exactly_when_something_it_is_made_of_does,
        each_day_asked_about_is_answered_and_no_other,
        finished_batches_of_the_bay_teach_unless_told_not_to,
        futures_are_compared_where_asked_for,
        what_cannot_be_estimated_says_why,
    }
    isolation {
        no_key_that_must_not_opens_anything_or_tells_what_is_there,
        what_is_no_farms_needs_a_good_key_as_well,
        another_farms_batch_cannot_be_merged_or_moved_into,
    }
    keys { the_first_key_closes_the_door, a_key_is_listed_without_its_text_and_revoked_for_good }
    resources {
        each_kind_is_created_read_changed_and_put_away,
        pages_of_each_kind_join_to_the_whole_list,
        a_batch_that_is_put_away_is_listed_only_where_asked_for,
    }
}
