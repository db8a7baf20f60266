% Evening class (invented): back EMF and torque of a shunt motor from the ammeter in the line.
% The ammeter stands in the line; this script takes its reading for the armature current.
1;

function value = otherwise_zero(in, name)
  value = 0;
  if isfield(in, name)
    value = in.(name);
  end
end

function out = evaluate(name, in)
  if in.U <= 0 || in.Rf <= 0 || in.Ra <= 0
    error("class:impossible", "U, Rf and Ra must be positive");
  end
  Rx = otherwise_zero(in, "Rax");
  Ub = otherwise_zero(in, "Ub");
  if otherwise_zero(in, "Rfx") < 0 || Rx < 0 || Ub < 0
    error("class:impossible", "Rfx, Rax and Ub cannot be negative");
  end
  Ia = in.I;
  E = in.U - Ia * (in.Ra + Rx) - Ub * sign(Ia);
  if E < 0
    error("class:impossible", "the motor stalls");
  end
  if strcmp(name, "back_emf")
    out = struct("E", E);
  else
    P0 = otherwise_zero(in, "P0");
    if in.n <= 0 || P0 < 0
      error("class:impossible", "the speed must be positive, the loss not negative");
    end
    omega = 2 * pi * in.n / 60;
    out = struct("T", E * Ia / omega, "T2", (E * Ia - P0) / omega);
  end
end

while true
  line = fgetl(stdin);
  if ! ischar(line)
    break;
  end
  question = jsondecode(line);
  switch question.request
    case "start"
      disp('{"ready": true, "functions": ["back_emf", "torque_from_line_current"]}');
    case "run"
      try
        answer = struct("id", question.id, "result", evaluate(question.name, question.inputs));
      catch problem
        answer = struct("id", question.id, "error", problem.message);
      end
      disp(jsonencode(answer));
    case "stop"
      break;
  end
  fflush(stdout);
end
