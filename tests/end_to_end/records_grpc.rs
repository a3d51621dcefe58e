//! Records over gRPC, from the real binary on both stores.

mod bringing_in;
mod events;
mod isolation;
mod resources;
mod webhooks;
mod yard;

on_both! { records_grpc:
    bringing_in {
        a_sheet_is_rehearsed_recorded_and_recorded_no_second_time,
        events_go_to_several_batches_all_of_them_or_the_good_ones,
        what_is_neither_or_both_is_refused,
    }
    events {
        every_kind_of_event_comes_back_as_it_was_sent,
        an_event_is_corrected_and_retracted_and_all_is_kept,
        a_repeated_request_is_recorded_once,
        of_a_mixed_lot_nothing_is_kept_or_the_good_as_asked,
        a_stored_batch_is_estimated_like_its_history,
        finished_batches_of_the_bay_teach_unless_told_not_to,
    }
    isolation {
        no_key_that_must_not_opens_anything_or_tells_what_is_there,
        what_is_no_farms_needs_a_good_key_as_well,
    }
    resources {
        what_is_created_comes_back_whole,
        a_mask_changes_what_it_names_and_a_stale_etag_nothing,
        a_batch_put_away_takes_no_events_until_it_is_brought_back,
        pages_join_to_the_whole_list,
    }
    webhooks { a_webhook_is_made_changed_by_mask_and_its_messages_seen }
}
