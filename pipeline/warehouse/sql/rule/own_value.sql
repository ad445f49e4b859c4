case {summary}
    when 'median' then {median}
    when 'mean' then {mean}
    when 'mean of best' then {mean_of_best}
    else {best}
end
