import { answerCalls } from '../worker/answer-calls.ts';
import { createRecordingJudge } from './recording-room.ts';

answerCalls(createRecordingJudge);
