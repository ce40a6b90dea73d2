-- needs: trials.trials, trials.treatments
-- One row per arm or N rate that a comparison asks for and no trial has, with the N rates there are; filled by the pipeline.
create table trials.asked_of_no_trial (line integer, asked varchar, there varchar);
comment on table trials.asked_of_no_trial is 'One row per arm or rate that no trial has';
