-- Which maps brake most evenly? Deceleration for each bar, over presses of 2 bar and more that nothing limited: the less it
-- differs from press to press, the more evenly. A map is where regeneration begins and is full, and its most torque.
select
  d.kit,
  round(d.regen_start_bar) as start_bar,
  round(d.regen_full_bar) as full_bar,
  round(d.regen_max_nm / 5) * 5 as max_nm,
  count(*) as presses,
  count(distinct d.drive) as drives,
  avg(b.deceleration_ms2 / b.peak_bar) as ms2_per_bar,
  100 * stddev_samp(b.deceleration_ms2 / b.peak_bar) / avg(b.deceleration_ms2 / b.peak_bar) as uneven_percent
from brake_applications b
join drives d on d.kit = b.kit and d.car = b.car and d.drive = b.drive
where b.peak_bar >= 2 and b.deceleration_ms2 is not null and b.limited_by is null and d.regen_max_nm is not null
group by d.kit, round(d.regen_start_bar), round(d.regen_full_bar), round(d.regen_max_nm / 5) * 5
having count(*) >= 5
order by uneven_percent
