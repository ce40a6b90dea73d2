-- needs: trials.trials, trials.plots, trials.printed_means, trials.eligibility
-- One row per comparison that uses a trial: the earliest day on which a yield can have been known; filled by the pipeline.
create table trials.first_harvests (
  comparison_id varchar primary key, crop varchar, first_harvest date, known_by varchar, trial_id varchar, first_printed date
);
comment on table trials.first_harvests is 'One row per comparison: the first harvest it uses';
